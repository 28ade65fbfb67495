"""Stems, beams and flags, and tuplets: where they stand."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from trainer.screens.drawing.note_values import WHOLE_NOTE, WrittenPart, groups
from trainer.screens.drawing.staff_items import BOTTOM_LINE, Beam, Stem, Tuplet, spaces
from trainer.screens.drawing.staff_rows import (
    BEAMS_IN_STEM,
    TOP_LINE,
    Frame,
    written_step,
)
from trainer.screens.drawing.systems import System

STEM_SPACES = 3.0
"""From the line at or beyond a head to the free end; printed ones have 3 1/2 from the middle of the
head (Gould, Behind Bars, 2011, 'Stem lengths', from memory)."""
MIDDLE_LINE = (BOTTOM_LINE + TOP_LINE) // 2
"""The stem of a note beyond one ledger line reaches it (ibid.)."""
BEAM_SPACES = 0.75
"""From one beam to the next."""

Group = tuple[WrittenPart, ...]


def stems_of(
    frame: Frame, system: System, group: Group, lowered: frozenset[int]
) -> tuple[Stem, ...]:
    """The stems of the notes of one beam, or of a single note; none for whole notes."""
    if group[0].symbol.value >= WHOLE_NOTE:
        return ()
    steps = [written_step(part.note, lowered) for part in group]
    highest = spaces(max(step + step % 2 for step in steps))
    lowest = spaces(min(step - step % 2 for step in steps))
    low = sum(steps) < len(steps) * MIDDLE_LINE
    room_above = highest < spaces(frame.highest) - (frame.scale.rows_a_space - 1) / 2
    room_below = lowest > spaces(frame.lowest)
    up = room_above and (low or not room_below)
    rows = math.ceil(frame.scale.rows_a_space * _beyond_stem(group))
    length = STEM_SPACES + rows / frame.scale.rows_a_space
    if up:
        end = min(spaces(frame.highest), max(highest + length, spaces(MIDDLE_LINE)))
    else:
        end = max(spaces(frame.lowest), min(lowest - length, spaces(MIDDLE_LINE)))
    flags = group[0].symbol.flags if len(group) == 1 else 0
    return tuple(
        Stem(head_x(frame, system, part), spaces(step), end, up, flags)
        for part, step in zip(group, steps, strict=True)
    )


def beams_of(stems: tuple[Stem, ...], group: Group) -> Iterator[Beam]:
    """What joins them."""
    if len(stems) > 1:
        yield Beam(stems, tuple(part.symbol.flags for part in group))


def tuplets_of(
    frame: Frame, system: System, tuplets: Iterable[Group], lowered: frozenset[int]
) -> Iterator[Tuplet]:
    """The figure of each tuplet, and a bracket where no beam joins all its notes; it stands outside
    the staff where there is room (Gould, Behind Bars, 2011, 'Tuplets', from memory)."""
    for tuplet in tuplets:
        stems = stems_of(frame, system, tuplet, lowered)
        if not stems or not all(system.holds(part.beat) for part in tuplet):
            continue
        up, y = stems[0].up, stems[0].end
        bracket = len(groups(tuplet)) > 1
        if bracket and up:
            y = min(spaces(frame.highest), max(y, spaces(TOP_LINE)) + 1)
        elif bracket:
            y = max(spaces(frame.lowest), min(y, spaces(BOTTOM_LINE)) - 1)
        figure, highest = str(tuplet[0].symbol.ratio[0]), max(stem.base for stem in stems)
        yield Tuplet(figure, stems[0].x, stems[-1].x, y, up, highest, bracket)


def head_x(frame: Frame, system: System, part: WrittenPart) -> float:
    """Left edge of a head, in staff spaces."""
    return (system.column(part.beat) + 1) / frame.scale.columns_a_space


def _beyond_stem(group: Group) -> float:
    """Staff spaces that beams need beyond a usual stem."""
    most = max(part.symbol.flags for part in group)
    return BEAM_SPACES * max(0, most - BEAMS_IN_STEM)
