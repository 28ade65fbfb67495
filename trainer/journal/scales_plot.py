"""Evenness and tempo of scales and arpeggios, drawn for the lesson page."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date
from typing import TYPE_CHECKING

from trainer.journal.log import RoundLog, SessionLog
from trainer.journal.technique import SCALE_KINDS, Technique
from trainer.journal.week_summary import Week
from trainer.journal.week_text import cut, even_trend, tempo_words
from trainer.music.articulations import AnyArticulation, ArticulationPattern
from trainer.music.note import Articulation
from trainer.paper.plot import (
    GREY,
    HEAD_IN,
    INK,
    PALE,
    SMALL_PT,
    axes_between,
    empty_figure,
    plain_axes,
    svg,
)
from trainer.wording.days import short_day

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.transforms import Transform

WIDTH_IN = 7.08
"""Of the paper between its margins."""
ROW_IN = 0.17
"""Of one scale."""
FOOT_IN = 0.22
PLACES_IN = ((0.0, 1.72), (1.84, 4.72), (4.86, 7.0))
"""Left and right end of the three columns."""
LONGEST_KEY = 18
"""Characters left of the plot."""
MARKERS: dict[Articulation, str] = {
    Articulation.SLURRED: "o",
    Articulation.LEGATO_TONGUE: "s",
    Articulation.SINGLE: "D",
    Articulation.STACCATO: ".",
    Articulation.TENUTO: "_",
    Articulation.ACCENTED: ">",
    Articulation.AIR_ONLY: "^",
    Articulation.AIR_ONLY_SILENT: "v",
    Articulation.DOUBLE: "X",
    Articulation.REVERSE_DOUBLE: "P",
    Articulation.TRIPLE: "*",
    Articulation.TRIPLE_TTK: "h",
}


def scales_plot(scales: Sequence[Technique]) -> str:
    """A row for each key and articulation: evenness on the left, the tempo held on the right.

    ○ the week's median, ● where it lies beyond what was asked (the upright stroke), the bar its
    middle half, × the week before; ■ the tempo that held two times, □ the week before.
    """
    figure = empty_figure(WIDTH_IN, scales_height_in(scales))
    figure.set_layout_engine("none")
    names, even, tempo = (axes_between(figure, *place, FOOT_IN) for place in PLACES_IN)
    even.set_gid("evenness")
    tempo.set_gid("tempo")
    _row_names(names, scales)
    for axes in (even, tempo):
        axes.hlines(range(len(scales)), 0, 1, PALE, linewidth=0.5, transform=_across(axes))
    for place, scale in enumerate(scales):
        _evenness_row(even, place, scale)
        _tempo_row(tempo, place, scale)
    even.set_xlim(0, 1.75 * max(_evenness_reach(scales), default=0.0) or 1.0)
    tempo.set_xlim(*_tempo_reach(scales))
    tempo.locator_params(axis="x", nbins=5, integer=True)
    _heads(even, "evenness, ms", "median (rounds)")
    _heads(tempo, "held at", "beats a minute")
    for axes in (names, even, tempo):
        axes.set_ylim(len(scales) - 0.5, -0.5)
        axes.set_yticks([])
    words = "Evenness in milliseconds and the fastest tempo that held, by key and articulation"
    return svg(figure, "scales", words)


def scales_height_in(scales: Sequence[Technique]) -> float:
    """The plot's height in inches."""
    return HEAD_IN + FOOT_IN + ROW_IN * len(scales)


def _across(axes: Axes) -> Transform:
    """From the axes' left side to its right, at a height among its data."""
    return axes.get_yaxis_transform()


def _heads(axes: Axes, left: str, right: str) -> None:
    axes.set_title(left, fontsize=SMALL_PT, loc="left")
    axes.set_title(right, fontsize=SMALL_PT, loc="right")


def _row_names(axes: Axes, scales: Sequence[Technique]) -> None:
    """The key in bold, and only where it changes, so that its articulations stand together."""
    axes.axis("off")
    before = None
    for place, scale in enumerate(scales):
        key = cut(key_name(scale.key) or "no key", LONGEST_KEY)
        if key != before:
            axes.text(0, place, key, fontsize=SMALL_PT, fontweight="bold", va="center",
                      transform=_across(axes), parse_math=False)  # fmt: skip
        axes.text(1, place, str(scale.articulation), fontsize=SMALL_PT, va="center", ha="right",
                  transform=_across(axes))  # fmt: skip
        before = key


def key_name(key: str) -> str:
    """'E♭ major' for 'E flat major'."""
    return key.replace(" sharp", "♯").replace(" flat", "♭")


def _figures(axes: Axes, place: int, words: str, name: str) -> None:
    """Words at a row's right end, on white so that no line runs through them."""
    axes.text(
        1, place, words.replace("-", "−"), transform=_across(axes), ha="right", va="center",
        fontsize=SMALL_PT, gid=name, zorder=5,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8},
    )  # fmt: skip


def _evenness_row(axes: Axes, place: int, scale: Technique) -> None:
    evenness, aim = scale.evenness_ms, scale.aim_ms
    if evenness is None:
        _figures(axes, place, "not heard", f"evenness-words-{place}")
        return
    axes.plot([evenness.low, evenness.high], [place, place], color=GREY, linewidth=2.2)
    if aim is not None:
        axes.plot(aim, place, "|", color=INK, markersize=9, markeredgewidth=1.2)
    if scale.evenness_change is not None:
        axes.plot(
            scale.evenness_change.before,
            place,
            "x",
            color=INK,
            markersize=4.5,
            gid=f"evenness-before-{place}",
        )
    beyond = aim is not None and evenness.median > aim
    axes.plot(
        evenness.median, place, "o", color=INK, markersize=5, zorder=4,
        markerfacecolor=INK if beyond else "white", gid=f"evenness-{place}",
    )  # fmt: skip
    trend = even_trend(scale)
    words = f"{evenness.median:.0f} ({evenness.count}){f'  {trend}' if trend else ''}"
    _figures(axes, place, words, f"evenness-words-{place}")


def _evenness_reach(scales: Sequence[Technique]) -> Iterator[float]:
    for scale in scales:
        yield scale.aim_ms or 0.0
        if scale.evenness_ms is not None:
            yield scale.evenness_ms.high
        if scale.evenness_change is not None:
            yield scale.evenness_change.before


def _tempo_row(axes: Axes, place: int, scale: Technique) -> None:
    now, before = scale.secure_bpm, scale.secure_before_bpm
    if before is not None and before != now:
        if now is not None:
            axes.plot([before, now], [place, place], color=GREY, linewidth=1.0)
        axes.plot(
            before,
            place,
            "s",
            color=INK,
            markerfacecolor="white",
            markersize=4.5,
            gid=f"tempo-before-{place}",
        )
    if now is not None:
        axes.plot(now, place, "s", color=INK, markersize=4.5, zorder=4, gid=f"tempo-{place}")
    _figures(axes, place, tempo_words(scale) or "–", f"tempo-words-{place}")


def _tempo_reach(scales: Sequence[Technique]) -> tuple[float, float]:
    """From the slowest to the fastest tempo held, with room for the words on the right."""
    tempi = [bpm for scale in scales for bpm in (scale.secure_bpm, scale.secure_before_bpm) if bpm]
    low, high = min(tempi, default=60.0), max(tempi, default=60.0)
    room = max(high - low, 12.0)
    return low - 0.15 * room, high + 0.85 * room


def steadiest_key(week: Week, sessions: Sequence[SessionLog]) -> str:
    """The key measured on the most days, then in the most rounds; empty when there is none."""
    days: dict[str, set[date]] = defaultdict(set)
    rounds: dict[str, int] = defaultdict(int)
    for log, round_ in _measured(week, sessions):
        days[round_.key].add(log.day)
        rounds[round_.key] += 1
    return max(days, key=lambda key: (len(days[key]), rounds[key], key), default="")


def evenness_rounds(
    week: Week, sessions: Sequence[SessionLog], key: str
) -> list[tuple[date, RoundLog]]:
    """The week's measured scale rounds in a key with their session's day, in the order played."""
    return [(log.day, round_) for log, round_ in _measured(week, sessions) if round_.key == key]


def _measured(week: Week, sessions: Sequence[SessionLog]) -> Iterator[tuple[SessionLog, RoundLog]]:
    """In the order played: sessions by their start, rounds as written, whatever the clock did."""
    for log in sorted(sessions, key=lambda log: log.started.astimezone(UTC)):
        if week.first_day <= log.day <= week.ending:
            for round_ in log.rounds:
                if round_.kind in SCALE_KINDS and _evenness_ms(round_) is not None:
                    yield log, round_


def _evenness_ms(round_: RoundLog) -> float | None:
    return round_.measures.evenness_ms if round_.measures else None


def _markers(played: Iterable[AnyArticulation]) -> dict[AnyArticulation, str]:
    """The shape of each articulation's mark; patterns are numbered, the legend says which."""
    kinds = list(dict.fromkeys(played))
    patterns = [kind for kind in kinds if isinstance(kind, ArticulationPattern)]
    return {
        kind: f"${1 + patterns.index(kind)}$"
        if isinstance(kind, ArticulationPattern)
        else MARKERS[kind]
        for kind in kinds
    }


def evenness_plot(
    rounds: Sequence[tuple[date, RoundLog]], key: str, width_in: float, height_in: float
) -> str:
    """Each round's evenness in ms in the order played; the mark's shape tells the articulation."""
    figure = empty_figure(width_in, height_in)
    axes = plain_axes(figure)
    heights = [_evenness_ms(round_) or 0.0 for _, round_ in rounds]
    for articulation, marker in _markers(round_.articulation for _, round_ in rounds).items():
        places = [n for n, (_, round_) in enumerate(rounds) if round_.articulation == articulation]
        axes.plot(
            places, [heights[place] for place in places], marker, color=INK,
            markerfacecolor="white", markersize=5, label=str(articulation),
            gid=f"rounds-{str(articulation).replace(' ', '-')}",
        )  # fmt: skip
    days = [day for day, _ in rounds]
    firsts = [place for place, day in enumerate(days) if place == 0 or day != days[place - 1]]
    for place in firsts[1:]:
        axes.axvline(place - 0.5, color=PALE, linewidth=0.8)
    names = [short_day(days[place]) for place in firsts]
    axes.set_xticks(firsts, names, ha="left")
    axes.set_xlim(-0.7, len(rounds) - 0.3)
    axes.set_ylim(0, 1.15 * max(heights, default=0) or 1)
    axes.set_ylabel("ms off even")
    axes.legend(
        loc="upper left", bbox_to_anchor=(1.0, 1.05), frameon=False, fontsize=SMALL_PT,
        handletextpad=0.2,
    )  # fmt: skip
    words = f"Evenness of each round in {key or 'no key'}, in milliseconds; lower is more even"
    return svg(figure, "evenness", words)
