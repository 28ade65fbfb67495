"""A part in sections short enough to practise: where a piece itself says that something begins."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from trainer.score.part import Bar

LONG_SECTION_BARS = 16
"""A longer one is divided at breaths and rests (common practice, no source)."""
SHORT_SECTION_BARS = 4
"""... but into no shorter ones than a phrase (common practice, no source)."""


def parted(bars: Sequence[Bar]) -> tuple[Sequence[Bar], ...]:
    """The bars with notes, in sections.

    A section ends at a double bar, before a rehearsal mark, where the tempo changes, and at a bar
    of rest; one that is long, also at a breath or a rest at a bar's end.
    """
    whole = _cut(bars, [place for place in range(1, len(bars)) if _begins(bars, place)])
    return tuple(
        short for section in whole for short in _shorter(section) if any(bar.notes for bar in short)
    )


def _begins(bars: Sequence[Bar], place: int) -> bool:
    before, bar = bars[place - 1], bars[place]
    changed = before.tempo_bpm != bar.tempo_bpm
    silent = bool(before.notes) != bool(bar.notes)
    return before.section_ends or bar.section_begins or changed or silent


def _shorter(section: Sequence[Bar]) -> Iterator[Sequence[Bar]]:
    """The section, or its phrases where it is long."""
    if len(section) <= LONG_SECTION_BARS:
        yield section
        return
    places: list[int] = []
    for place in range(SHORT_SECTION_BARS, len(section) - SHORT_SECTION_BARS + 1):
        last = places[-1] if places else 0
        if place - last >= SHORT_SECTION_BARS and _breathes(section[place - 1]):
            places.append(place)
    yield from _cut(section, places)


def _breathes(bar: Bar) -> bool:
    """A breath stands at its end, or a rest."""
    if not bar.notes:
        return True
    last = bar.notes[-1]
    return last.breath_after or last.beat + last.length < bar.length


def _cut(bars: Sequence[Bar], places: Sequence[int]) -> list[Sequence[Bar]]:
    return [bars[first:end] for first, end in pairwise([0, *places, len(bars)])]
