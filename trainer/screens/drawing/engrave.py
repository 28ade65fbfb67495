"""Engraving: a system's music as signs at their places, the same for every painter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from trainer.screens.drawing import above_staff
from trainer.screens.drawing.accidentals import DOUBLE_SHARP, FLAT, NATURAL, SHARP
from trainer.screens.drawing.canvas import Ink
from trainer.screens.drawing.note_values import (
    HALF_NOTE,
    WHOLE_NOTE,
    WrittenPart,
    WrittenRest,
    groups,
)
from trainer.screens.drawing.signatures import FOURTH_LINE, G_LINE, opening
from trainer.screens.drawing.staff_items import (
    BOTTOM_LINE,
    BarLine,
    Figure,
    Ledger,
    Placed,
    StaffItems,
    StaffSign,
    TieEnd,
    spaces,
)
from trainer.screens.drawing.staff_rows import (
    TOP_LINE,
    Frame,
    Sheet,
    written_step,
)
from trainer.screens.drawing.stems import beams_of, head_x, stems_of, tuplets_of
from trainer.screens.drawing.systems import System

ACCIDENTALS = {
    SHARP: StaffSign.SHARP,
    FLAT: StaffSign.FLAT,
    NATURAL: StaffSign.NATURAL,
    DOUBLE_SHARP: StaffSign.DOUBLE_SHARP,
    FLAT * 2: StaffSign.DOUBLE_FLAT,
}
RESTS = {
    Fraction(4): StaffSign.REST_WHOLE,
    Fraction(2): StaffSign.REST_HALF,
    Fraction(1): StaffSign.REST_QUARTER,
    Fraction(1, 2): StaffSign.REST_8TH,
    Fraction(1, 4): StaffSign.REST_16TH,
    Fraction(1, 8): StaffSign.REST_32ND,
    Fraction(1, 16): StaffSign.REST_64TH,
}
"""By note value in quarters."""
MIDDLE_LINE = 2.0
HEAD_SPACES = 1.0
"""Room of a head, before what stands right of it."""
DOT_SPACES = 0.5
"""From one dot to the next."""


def engraved(
    system: System, sheet: Sheet, frame: Frame, care: frozenset[int] = frozenset()
) -> StaffItems:
    """The system's signs; notes that need care, by index, are inked apart."""
    lowered = sheet.lowered
    parts = [part for part in sheet.written.parts if system.holds(part.beat)]
    joined = [(stems_of(frame, system, group, lowered), group) for group in groups(parts)]
    rests = [rest for rest in sheet.written.rests if system.holds(rest.beat)]
    signatures = tuple(_signatures(frame, system))
    return StaffItems(
        right=system.right / frame.scale.columns_a_space,
        signs=(
            Placed(StaffSign.CLEF, 1 / frame.scale.columns_a_space, G_LINE),
            *(sign for sign in signatures if isinstance(sign, Placed)),
            *(sign for rest in rests for sign in _rest(frame, system, rest)),
            *(sign for part in parts for sign in _note(frame, system, sheet, part, care)),
            *above_staff.marks(frame, system),
            *above_staff.soft_tongues(frame, system, sheet),
            *above_staff.harmonics(frame, system),
            *above_staff.breaths(frame, system),
        ),
        figures=tuple(sign for sign in signatures if isinstance(sign, Figure)),
        ledgers=tuple(line for part in parts for line in _ledgers(frame, system, sheet, part)),
        stems=tuple(stem for stems, _ in joined for stem in stems),
        beams=tuple(beam for stems, group in joined for beam in beams_of(stems, group)),
        bar_lines=tuple(_bar_lines(frame, system, sheet, parts)),
        bows=tuple(above_staff.slurs(frame, system, sheet)),
        ties=tuple(tie for part in parts for tie in _ties(frame, system, sheet, part)),
        hairpins=(
            *above_staff.hairpins(frame, system),
            *above_staff.swells(frame, system, sheet),
        ),
        words=(
            *above_staff.starts(frame, system, sheet),
            *above_staff.octave_signs(frame, system, sheet),
            *above_staff.graces(frame, system),
            *above_staff.levels(frame, system, sheet),
        ),
        tuplets=tuple(tuplets_of(frame, system, sheet.written.tuplets, lowered)),
    )


def _signatures(frame: Frame, system: System) -> Iterator[Placed | Figure]:
    """At its beginning, and wherever they change."""
    bars = system.bars
    begun = opening(bars, bars.at(system.start), begins=system.start == 0)
    yield from begun.drawn(frame.scale.clef, frame.scale)
    for beat, signs, _ in system.changes:
        yield from signs.drawn(system.column_before(beat), frame.scale)


def _bar_lines(
    frame: Frame, system: System, sheet: Sheet, parts: Iterable[WrittenPart]
) -> Iterator[BarLine]:
    """Each before what begins its bar, and before its accidental."""
    column = frame.scale.columns_a_space
    ends = system.end >= sheet.last_beat
    signed = {part.beat for part in parts if _accidental(part, sheet)}
    for bar in system.bars.until(system.end):
        before = 1 + frame.scale.accidental * (bar.ends in signed)
        at = system.column_before(bar.ends) - before
        within = system.start < bar.ends <= system.end
        if within and not (ends and at >= system.right - 1):
            yield BarLine(at / column)
    if ends:
        yield BarLine((system.right - 1) / column, final=True)


def _rest(frame: Frame, system: System, rest: WrittenRest) -> Iterator[Placed]:
    """Where its time begins; one for a whole bar in the bar's middle."""
    column = frame.scale.columns_a_space
    if rest.whole_bar:
        middle = (system.column(rest.beat) + system.column(rest.beat + rest.length)) // 2 - 1
        yield Placed(StaffSign.REST_WHOLE, middle / column, FOURTH_LINE, Ink.NOTE)
        return
    x = (system.column(rest.beat) + 1) / column
    sign = RESTS[rest.symbol.value]
    yield Placed(sign, x, FOURTH_LINE if sign is StaffSign.REST_WHOLE else MIDDLE_LINE, Ink.NOTE)
    for dot in range(rest.symbol.dots):
        yield Placed(StaffSign.DOT, x + HEAD_SPACES + dot * DOT_SPACES, MIDDLE_LINE + 0.5, Ink.NOTE)


def _note(
    frame: Frame, system: System, sheet: Sheet, part: WrittenPart, care: frozenset[int]
) -> Iterator[Placed]:
    index = part.note.index
    step, x = written_step(part.note, sheet.lowered), head_x(frame, system, part)
    own = Ink.SIGN if index in sheet.others else Ink.NOTE
    yield Placed(_head(part.symbol.value), x, spaces(step), Ink.CARE if index in care else own)
    in_space = spaces(step + 1 - step % 2)
    for dot in range(part.symbol.dots):
        yield Placed(StaffSign.DOT, x + HEAD_SPACES + dot * DOT_SPACES, in_space, Ink.NOTE)
    sign = _accidental(part, sheet)
    if sign:
        yield Placed(ACCIDENTALS[sign], x, spaces(step), Ink.NOTE, right_aligned=True)


def _accidental(part: WrittenPart, sheet: Sheet) -> str:
    return "" if part.symbol.tied_back else sheet.signs.get(part.note.index, "")


def _head(value: Fraction) -> StaffSign:
    if value >= WHOLE_NOTE:
        return StaffSign.HEAD_WHOLE
    return StaffSign.HEAD_HALF if value >= HALF_NOTE else StaffSign.HEAD_BLACK


def _ledgers(frame: Frame, system: System, sheet: Sheet, part: WrittenPart) -> Iterator[Ledger]:
    step = written_step(part.note, sheet.lowered)
    above = range(TOP_LINE + 2, step + 1, 2)
    below = range(BOTTOM_LINE - 2, step - 1, -2)
    if above or below:
        x = head_x(frame, system, part)
        yield from (Ledger(x, spaces(line)) for line in (*above, *below))


def _ties(frame: Frame, system: System, sheet: Sheet, part: WrittenPart) -> Iterator[TieEnd]:
    """From each part of a held note to the next; two halves where a system ends between them."""
    if not (part.symbol.tied_on or part.symbol.tied_back):
        return
    held_over = part.beat == system.start
    column = frame.scale.columns_a_space
    x, y = head_x(frame, system, part), spaces(written_step(part.note, sheet.lowered))
    if part.symbol.tied_on:
        begin = x + HEAD_SPACES + DOT_SPACES * part.symbol.dots
        after = part.beat + part.symbol.length / sheet.beat_quarters
        yield TieEnd(begin, y, (system.column(after) + 1) / column)
    if part.symbol.tied_back:
        yield TieEnd(x - 1 / column, y, x, from_before=True, over_break=held_over)
