"""Where the week's time went and how the notes stood in tune, drawn for the lesson page.

Shape and words carry the meaning. A mark's id ends in its place from the left or the top.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING

from trainer.journal.statistics import Spread
from trainer.journal.time_spent import DayTime, KindTime
from trainer.journal.tuning_map import OUT_OF_TUNE_CENTS, NoteTuning
from trainer.paper.plot import (
    GREY,
    INK,
    PALE,
    SMALL_PT,
    SMALLEST_PT,
    empty_figure,
    note_name,
    plain_axes,
    svg,
)
from trainer.routine.round import RoundKind

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEAST_CENTS_SHOWN = 20.0
ENOUGH_FOR_A_LINE = 3
"""Times a note must be heard from one side, and notes a line must join."""


def minutes_plot(days: Sequence[DayTime], width_in: float, height_in: float) -> str:
    """A bar a day: playing in solid grey, rests hatched above it, the total in figures."""
    figure = empty_figure(width_in, height_in)
    axes = plain_axes(figure)
    places = range(len(days))
    playing = [day.played_minutes for day in days]
    resting = [day.minutes - day.played_minutes for day in days]
    lower = axes.bar(
        places, playing, 0.62, color=GREY, edgecolor=INK, linewidth=0.7, label="playing"
    )
    upper = axes.bar(
        places, resting, 0.62, bottom=playing, color="white", edgecolor=INK, linewidth=0.7,
        hatch="////", label="rests between",
    )  # fmt: skip
    for place, day in zip(places, days, strict=True):
        lower[place].set_gid(f"playing-{place}")
        upper[place].set_gid(f"rests-{place}")
        words = f"{day.minutes:.0f}" if day.sessions else "none"
        axes.annotate(
            words, (place, day.minutes), (0, 2), textcoords="offset points", ha="center",
            fontsize=SMALL_PT, gid=f"words-{place}",
        )  # fmt: skip
    axes.set_xticks(list(places), [f"{day.day:%a}\n{day.day.day}" for day in days])
    axes.set_ylabel("minutes")
    axes.set_ylim(0, 1.35 * max((day.minutes for day in days), default=0) or 1)
    axes.legend(loc="upper left", ncols=2, frameon=False, fontsize=SMALL_PT, borderpad=0)
    return svg(figure, "minutes", "Minutes of practice by day, in playing and in rests")


def kinds_plot(kinds: Sequence[KindTime], width_in: float, height_in: float) -> str:
    """A bar to the right for each kind of practice, with its minutes and rounds in figures."""
    figure = empty_figure(width_in, height_in)
    axes = plain_axes(figure)
    places = range(len(kinds))
    axes.barh(
        places, [kind.played_minutes for kind in kinds], 0.6, color=GREY, edgecolor=INK,
        linewidth=0.7,
    )  # fmt: skip
    for place, kind in zip(places, kinds, strict=True):
        axes.annotate(
            f"{kind.played_minutes:.1f} min, {kind.rounds}×", (kind.played_minutes, place), (3, 0),
            textcoords="offset points", va="center", fontsize=SMALL_PT, gid=f"words-{place}",
        )  # fmt: skip
    axes.set_yticks(list(places), [shown_kind(kind.kind) for kind in kinds])
    axes.set_ylim(max(len(kinds), 4) - 0.5, -0.5)
    axes.set_xlim(0, 1.6 * max((kind.played_minutes for kind in kinds), default=0) or 1)
    axes.spines["bottom"].set_visible(False)
    axes.set_xticks([])
    axes.tick_params(length=0)
    return svg(figure, "kinds", "Minutes of playing by kind of practice")


def shown_kind(kind: RoundKind) -> str:
    """The kind as a reader knows it; the files keep the older word for a trouble spot."""
    return "trouble spot" if kind is RoundKind.KNOT else kind.value


def tuning_plot(
    notes: Sequence[NoteTuning], instrument: str, width_in: float, height_in: float
) -> str:
    """Each note's median in cents with its middle half, and a line each for going up and down.

    ▲ stands sharp, ▼ flat, ○ near; the line of the rising scale is solid, of the falling dashed.
    """
    figure = empty_figure(width_in, height_in)
    axes = plain_axes(figure)
    for place, note in enumerate(notes):
        _tuning_mark(axes, place, note)
    _direction_line(axes, notes, "going up", "solid", lambda note: note.rising)
    _direction_line(axes, notes, "coming down", (0, (2, 1.5)), lambda note: note.falling)
    axes.axhline(0, color=INK, linewidth=0.8, zorder=1)
    for line in (OUT_OF_TUNE_CENTS, -OUT_OF_TUNE_CENTS):
        axes.axhline(line, color=PALE, linewidth=0.8, linestyle=(0, (4, 3)), zorder=1)
    furthest = max((max(-note.cents.low, note.cents.high) for note in notes), default=0.0)
    reach = 1.3 * max(furthest, LEAST_CENTS_SHOWN)
    axes.set_ylim(-reach, reach)
    axes.set_xlim(-0.7, len(notes) - 0.3)
    axes.set_xticks(range(len(notes)), [_two_lines(note.written) for note in notes])
    axes.tick_params(axis="x", labelsize=SMALLEST_PT)
    axes.set_ylabel("flat ↓   cents   ↑ sharp")
    if axes.get_legend_handles_labels()[0]:
        axes.legend(loc="upper left", ncols=2, frameon=False, fontsize=SMALL_PT, borderpad=0)
    words = f"Tuning of the {instrument}: where each note usually is, and where half of them lie"
    return svg(figure, f"tuning-{instrument}", words)


def _tuning_mark(axes: Axes, place: int, note: NoteTuning) -> None:
    cents, out = note.cents, stands_out(note.cents.median)
    axes.plot([place, place], [cents.low, cents.high], color=GREY, linewidth=2.2, zorder=2)
    marker = "o" if not out else "^" if cents.median > 0 else "v"
    axes.plot(
        place, cents.median, marker, color=INK, markersize=6, zorder=4,
        markerfacecolor=INK if out else "white", gid=f"mark-{place}",
    )  # fmt: skip
    if out:
        up = cents.median > 0
        axes.annotate(
            f"{cents.median:+.0f}".replace("-", "−"), (place, cents.high if up else cents.low),
            (0, 4 if up else -4), textcoords="offset points", ha="center",
            va="bottom" if up else "top", fontsize=SMALLEST_PT, gid=f"words-{place}",
        )  # fmt: skip


def _direction_line(
    axes: Axes,
    notes: Sequence[NoteTuning],
    name: str,
    style: object,
    side: Callable[[NoteTuning], Spread | None],
) -> None:
    """The medians from one side, joined between neighbours."""
    for number, run in enumerate(_runs([side(note) for note in notes])):
        axes.plot(
            [place for place, _ in run], [cents for _, cents in run], color=GREY, linewidth=1.0,
            linestyle=style, zorder=3, label=name if number == 0 else None,
        )  # fmt: skip


def _runs(spreads: Sequence[Spread | None]) -> Iterator[list[tuple[int, float]]]:
    """Unbroken runs of notes that were heard often enough."""
    run: list[tuple[int, float]] = []
    for place, cents in enumerate([*spreads, None]):
        if cents is not None and cents.count >= ENOUGH_FOR_A_LINE:
            run.append((place, cents.median))
            continue
        if len(run) >= ENOUGH_FOR_A_LINE:
            yield run
        run = []


def stands_out(cents: float) -> bool:
    """Far enough from the tuning asked for to be marked."""
    return abs(cents) >= OUT_OF_TUNE_CENTS


def _two_lines(written: str) -> str:
    name = note_name(written)
    letter = name.rstrip("-0123456789")
    return f"{letter}\n{name[len(letter) :]}"
