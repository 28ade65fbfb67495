"""The plots of the lesson page as SVG. Shape and words carry the meaning; all ink is black or grey.

The only module that needs matplotlib; it is loaded when the first plot is drawn.
"""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

from trainer.errors import JournalError
from trainer.journal.log import RoundLog, SessionLog
from trainer.journal.next_week import OUT_OF_TUNE_CENTS
from trainer.journal.technique import SCALE_KINDS
from trainer.journal.time_spent import DayTime
from trainer.journal.tuning_map import NoteTuning
from trainer.journal.week import Week
from trainer.music.note import Articulation

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_INK, _GREY, _PALE = "#111111", "#666666", "#cccccc"
_MARKERS = dict(zip(Articulation, "osD^vXP", strict=True))
_LEAST_CENTS_SHOWN = 20.0


def minutes_plot(days: Sequence[DayTime], width_in: float, height_in: float) -> str:
    """A bar a day: playing in solid grey, rests hatched above it, the total in figures."""
    figure, axes = _empty(width_in, height_in)
    places = range(len(days))
    playing = [day.played_minutes for day in days]
    resting = [day.minutes - day.played_minutes for day in days]
    axes.bar(places, playing, 0.62, color=_GREY, edgecolor=_INK, linewidth=0.7, label="playing")
    axes.bar(
        places, resting, 0.62, bottom=playing, color="white", edgecolor=_INK, linewidth=0.7,
        hatch="////", label="rests between",
    )  # fmt: skip
    for place, day in zip(places, days, strict=True):
        words = f"{day.minutes:.0f}" if day.sessions else "none"
        axes.annotate(words, (place, day.minutes), (0, 2), textcoords="offset points", ha="center",
                      fontsize=8)  # fmt: skip
    axes.set_xticks(list(places), [f"{day.day:%a}\n{day.day.day}" for day in days])
    axes.set_ylabel("minutes")
    axes.set_ylim(0, 1.3 * max((day.minutes for day in days), default=0) or 1)
    axes.legend(loc="upper left", ncols=2, frameon=False, fontsize=8, borderpad=0)
    return _svg(figure, "minutes", "Minutes of practice by day, in playing and in rests")


def tuning_plot(
    notes: Sequence[NoteTuning], instrument: str, width_in: float, height_in: float
) -> str:
    """Each note's median in cents with its middle half: ▲ sharp, ▼ flat, ○ near."""
    figure, axes = _empty(width_in, height_in)
    for place, note in enumerate(notes):
        cents = note.cents
        axes.plot([place, place], [cents.low, cents.high], color=_GREY, linewidth=2.2, zorder=2)
        axes.plot(
            place, cents.median, _tuning_marker(cents.median), color=_INK, markersize=6,
            markerfacecolor=_INK if _stands_out(cents.median) else "white", zorder=3,
        )  # fmt: skip
        if _stands_out(cents.median):
            up = cents.median > 0
            axes.annotate(
                f"{cents.median:+.0f}", (place, cents.high if up else cents.low),
                (0, 4 if up else -4), textcoords="offset points", ha="center",
                va="bottom" if up else "top", fontsize=7,
            )  # fmt: skip
    axes.axhline(0, color=_INK, linewidth=0.8, zorder=1)
    for line in (OUT_OF_TUNE_CENTS, -OUT_OF_TUNE_CENTS):
        axes.axhline(line, color=_PALE, linewidth=0.8, linestyle=(0, (4, 3)), zorder=1)
    furthest = max((max(-note.cents.low, note.cents.high) for note in notes), default=0.0)
    reach = 1.3 * max(furthest, _LEAST_CENTS_SHOWN)
    axes.set_ylim(-reach, reach)
    axes.set_xlim(-0.7, len(notes) - 0.3)
    axes.set_xticks(range(len(notes)), [_two_lines(note.written) for note in notes], fontsize=7)
    axes.set_ylabel("flat ↓   cents   ↑ sharp")
    words = f"Tuning of the {instrument}: median and middle half of each note in cents"
    return _svg(figure, f"tuning-{instrument}", words)


def _tuning_marker(cents: float) -> str:
    if not _stands_out(cents):
        return "o"
    return "^" if cents > 0 else "v"


def _stands_out(cents: float) -> bool:
    return abs(cents) >= OUT_OF_TUNE_CENTS


def most_played_key(week: Week) -> str:
    """The key with the most scale rounds; empty when no round has one."""
    rounds: Counter[str] = Counter()
    for technique in week.techniques:
        if technique.evenness_ms:
            rounds[technique.key] += technique.rounds
    return max(rounds, key=lambda key: (rounds[key], key), default="")


def evenness_rounds(week: Week, sessions: Sequence[SessionLog], key: str) -> list[RoundLog]:
    """The week's measured scale rounds in a key, in the order played."""
    rounds = [
        round_
        for log in sessions
        if week.first_day <= log.day <= week.ending
        for round_ in log.rounds
        if round_.kind in SCALE_KINDS
        and round_.key == key
        and round_.measures is not None
        and round_.measures.evenness_ms is not None
    ]
    return sorted(rounds, key=lambda round_: round_.started)


def evenness_plot(rounds: Sequence[RoundLog], key: str, width_in: float, height_in: float) -> str:
    """Each round's evenness in ms in the order played; the mark's shape tells the articulation."""
    figure, axes = _empty(width_in, height_in)
    for articulation in dict.fromkeys(round_.articulation for round_ in rounds):
        points = [
            (place, round_.measures.evenness_ms)
            for place, round_ in enumerate(rounds)
            if round_.articulation is articulation
            and round_.measures
            and round_.measures.evenness_ms is not None
        ]
        axes.plot(
            [place for place, _ in points], [ms for _, ms in points], _MARKERS[articulation],
            color=_INK, markerfacecolor="white", markersize=5, label=str(articulation),
        )  # fmt: skip
    days = [round_.started.date() for round_ in rounds]
    firsts = [place for place, day in enumerate(days) if place == 0 or day != days[place - 1]]
    for place in firsts[1:]:
        axes.axvline(place - 0.5, color=_PALE, linewidth=0.8)
    names = [f"{days[place]:%a} {days[place].day}" for place in firsts]
    axes.set_xticks(firsts, names, ha="left")
    axes.set_xlim(-0.7, len(rounds) - 0.3)
    highest = max(
        (round_.measures.evenness_ms or 0 for round_ in rounds if round_.measures), default=0
    )
    axes.set_ylim(0, 1.15 * highest or 1)
    axes.set_ylabel("ms off an even line")
    axes.legend(
        loc="upper left", bbox_to_anchor=(1.0, 1.05), frameon=False, fontsize=8, handletextpad=0.2
    )
    words = f"Evenness of each round in {key or 'no key'}, in milliseconds; lower is more even"
    return _svg(figure, "evenness", words)


def note_name(written: str) -> str:
    """'F♯5' for 'F#5'."""
    return written[:1] + written[1:].replace("##", "𝄪").replace("#", "♯").replace("b", "♭")


def _two_lines(written: str) -> str:
    name = note_name(written)
    letter = name.rstrip("-0123456789")
    return f"{letter}\n{name[len(letter) :]}"


def _empty(width_in: float, height_in: float) -> tuple[Figure, Axes]:
    """An empty plot of this size in inches."""
    try:
        from matplotlib.figure import Figure
    except ImportError as missing:
        raise JournalError(
            "The lesson page draws its plots with matplotlib, which isn't installed. Install it "
            "with: pip install 'flute-practice-trainer[pages]'"
        ) from missing
    figure = Figure(figsize=(width_in, height_in), layout="constrained")
    axes = figure.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(labelsize=8)
    axes.yaxis.label.set_fontsize(8)
    return figure, axes


def _svg(figure: Figure, name: str, words: str) -> str:
    """The figure as an SVG element with a description, its ids apart from other plots' ids."""
    from matplotlib import rc_context

    text = io.StringIO()
    nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
    with rc_context(
        {"svg.fonttype": "none", "svg.hashsalt": "lesson page", "hatch.linewidth": 0.6}
    ):
        figure.savefig(text, format="svg", metadata=nothing)
    drawing = text.getvalue()
    drawing = drawing[drawing.index("<svg") :]
    prefix = re.sub(r"[^a-z]+", "-", name.lower())
    drawing = re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{prefix}-", drawing)
    return drawing.replace("<svg", f'<svg role="img" aria-label="{escape(words)}"', 1).strip()
