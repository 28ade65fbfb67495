"""A system of music drawn in text.

One row of cells holds one staff line; a space is half of the row above and half of the row below.
A head on a line fills its row, a head in a space the lower half of one row and the upper half of
the next, so that every step of the scale is half a row, and heads are as tall as the space.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.screens.drawing import clef, octave_sign
from trainer.screens.drawing.accidentals import accidentals, signature_places
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.systems import CLEF_COLUMNS, System
from trainer.screens.drawing.values import (
    HALF_NOTE,
    WHOLE_NOTE,
    Group,
    beams,
    cut_at_bar_lines,
    groups,
    is_dotted,
    rests,
)

BOTTOM_LINE = Pitch.parse("E4").staff_step
TOP_LINE = Pitch.parse("F5").staff_step
LOWEST_ROW = Pitch.parse("C4").staff_step
HIGHEST_ROW = Pitch.parse("A5").staff_step
"""The rows that are always there: the clef reaches from one to the other."""
SIGN_ROWS = 1
"""Above the staff: slurs, starts and breaths."""

STARTS = {
    Start.LEGATO_TONGUE: "–",
    Start.BREATH: "h",
    Start.SILENT_AIR: "h",
    Start.BACK_TONGUED: "K",
}
DOT_ON_LINE, DOT_IN_SPACE = "▘", "▖"
"""A dot stands in a space: the note's own, or the one above its line."""
STUBS = {"▄": "▟", "▀": "▛", "┓": "┫", "┗": "┣"}
"""Half a head, and the same with the beginning of its stem."""
CORNERS = {True: ("┍┯┑", "╒╤╕"), False: ("┕┷┙", "╘╧╛")}
"""Where a beam meets its stems, first, middle and last: stems up or not, one beam or more."""
BREATH = "’"
_OF_A_NOTE = {Ink.NOTE, Ink.CARE}
TIE = "‿"
REST = "⌇"


@dataclass(frozen=True)
class Frame:
    """The rows a system is drawn in."""

    lowest: int
    """Staff step of the lowest row; even, as staff lines are."""
    highest: int
    octave_row: bool
    """A row of its own for the octave sign."""

    @property
    def sign_rows(self) -> int:
        """Rows above the staff."""
        return SIGN_ROWS + self.octave_row

    @property
    def height(self) -> int:
        """Rows in all."""
        return self.sign_rows + (self.highest - self.lowest) // 2 + 1

    def row(self, step: int) -> int:
        """The row of a line's step; for a space, the row of the line above it."""
        return self.sign_rows + (self.highest - step) // 2


def written_step(note: Note, lowered: frozenset[int]) -> int:
    """Where the note's head stands."""
    return note.pitch.staff_step - (7 if note.index in lowered else 0)


def frame(notes: Sequence[Note], lowered: frozenset[int]) -> Frame:
    """Rows enough for every note."""
    steps = [written_step(note, lowered) for note in notes]
    lowest = min([LOWEST_ROW, *(step - step % 2 for step in steps)])
    highest = max([HIGHEST_ROW, *(step + step % 2 for step in steps)])
    return Frame(lowest, highest, bool(lowered & {note.index for note in notes}))


@dataclass(frozen=True)
class Sheet:
    """What stays the same from system to system."""

    signature: int
    beats_per_bar: int
    lowered: frozenset[int]
    """Indices of the notes under an octave sign."""
    signs: dict[int, str]
    """Accidentals by note index."""
    beats: frozenset[Fraction]
    """Where a note begins; a tied head stands elsewhere, and repeats no accidental."""
    slurred: frozenset[int]
    """Indices of the notes slurred to the one before."""
    doubled: bool
    """Front and back strokes alternate, so both are written out."""
    last_beat: Fraction
    """Where the final bar line stands."""


def sheet(
    notes: Sequence[Note],
    signature: int,
    beats_per_bar: int,
    lowered: frozenset[int] = frozenset(),
) -> Sheet:
    """Work out the accidentals of a whole round."""
    return Sheet(
        signature=signature,
        beats_per_bar=beats_per_bar,
        lowered=lowered,
        signs=accidentals(notes, signature, beats_per_bar, lowered),
        beats=frozenset(note.beat for note in notes),
        slurred=frozenset(note.index for note in notes if note.start is Start.SLURRED),
        doubled=any(note.start is Start.BACK_TONGUED for note in notes),
        last_beat=notes[-1].beat + notes[-1].length,
    )


def staff_rows(
    system: System, sheet: Sheet, frame: Frame, width: int, care: frozenset[int] = frozenset()
) -> tuple[Row, ...]:
    """The system drawn; notes that need care, by index, stand between brackets."""
    canvas = Canvas(width, frame.height)
    _draw_lines(canvas, frame, min(width, system.right + 1))
    _draw_clef(canvas, frame)
    _draw_signature(canvas, frame, sheet.signature)
    _draw_bar_lines(canvas, frame, system, sheet)
    parts = cut_at_bar_lines(system.notes, sheet.beats_per_bar)
    for beat, length in rests(parts):
        _draw_rest(canvas, frame, system, beat, length)
    for note in parts:
        _draw_note(canvas, frame, system, sheet, note, note.index in care)
    for group in groups(parts):
        _draw_stems(canvas, frame, system, group, sheet.lowered)
    for note, held in pairwise(parts):
        if note.index == held.index:
            _draw_tie(canvas, frame, system, sheet, note, held)
    _draw_starts(canvas, frame, system, sheet)
    _draw_octave_signs(canvas, frame, system, sheet)
    _draw_breaths(canvas, frame, system)
    return canvas.rows()


def _draw_lines(canvas: Canvas, frame: Frame, width: int) -> None:
    for step in range(BOTTOM_LINE, TOP_LINE + 1, 2):
        canvas.put(0, frame.row(step), "─" * width, Ink.LINE)


def _draw_clef(canvas: Canvas, frame: Frame) -> None:
    for row, text in enumerate(clef.TREBLE, frame.row(clef.TOP_STEP)):
        for column, character in enumerate(text, 1):
            if character != " ":
                canvas.put(column, row, character, Ink.SIGN)


def _draw_signature(canvas: Canvas, frame: Frame, signature: int) -> None:
    sign = "♯" if signature > 0 else "♭"
    for column, place in enumerate(signature_places(signature), CLEF_COLUMNS):
        canvas.put(column, _sign_row(frame, place.staff_step, sign), sign, Ink.SIGN)


def _sign_row(frame: Frame, step: int, sign: str) -> int:
    """The row of an accidental; in a space a flat's belly hangs from the line above."""
    lower = step % 2 and sign != "♭"
    return frame.row(step + step % 2) + (1 if lower else 0)


def _draw_bar_lines(canvas: Canvas, frame: Frame, system: System, sheet: Sheet) -> None:
    first, last = frame.row(TOP_LINE), frame.row(BOTTOM_LINE)
    bars = range(sheet.beats_per_bar, int(system.end) + 1, sheet.beats_per_bar)
    columns = {system.column(bar) - 1: "│" for bar in bars if bar > system.start}
    if system.end >= sheet.last_beat:
        columns = {x: sign for x, sign in columns.items() if x < system.right - 1}
        columns[system.right - 1] = "║"
    for x, sign in columns.items():
        for row in range(first, last + 1):
            canvas.put(x, row, sign, Ink.LINE)


def _draw_note(
    canvas: Canvas, frame: Frame, system: System, sheet: Sheet, note: Note, care: bool
) -> None:
    step, x = written_step(note, sheet.lowered), system.column(note.beat) + 1
    _draw_ledger_lines(canvas, frame, step, x)
    ink = Ink.CARE if care else Ink.NOTE
    row = frame.row(step + step % 2)
    for offset, text in enumerate(_head(step, note.length)):
        canvas.put(x, row + offset, text, ink)
    if is_dotted(note.length):
        canvas.put(x + 2, row, DOT_IN_SPACE if step % 2 else DOT_ON_LINE, Ink.NOTE)
    sign = sheet.signs.get(note.index, "") if note.beat in sheet.beats else ""
    canvas.put(x - len(sign), _sign_row(frame, step, sign), sign, Ink.NOTE)


def _draw_tie(
    canvas: Canvas, frame: Frame, system: System, sheet: Sheet, note: Note, held: Note
) -> None:
    """The two ends of a tie, as at a line break; the middle would hide in the staff."""
    step = written_step(note, sheet.lowered)
    row = frame.row(step + step % 2)
    dotted = is_dotted(note.length)
    canvas.put(system.column(note.beat) + 3 + dotted, row, TIE, Ink.SIGN)
    canvas.put(system.column(held.beat), row, TIE, Ink.SIGN)


def _head(step: int, length: Fraction) -> tuple[str, ...]:
    """One row for a head on a line, two halves for a head in a space; hollow from a half note."""
    hollow = length >= HALF_NOTE
    if step % 2 == 0:
        return ("()",) if hollow else ("██",)
    return ("┏┓", "┗┛") if hollow else ("▄▄", "▀▀")


def _draw_ledger_lines(canvas: Canvas, frame: Frame, step: int, x: int) -> None:
    above = range(TOP_LINE + 2, step + 1, 2)
    below = range(BOTTOM_LINE - 2, step - 1, -2)
    for line in (*above, *below):
        canvas.put(x - 1, frame.row(line), "╶──╴", Ink.LINE)


def _draw_stems(
    canvas: Canvas, frame: Frame, system: System, group: Group, lowered: frozenset[int]
) -> None:
    if group.notes[0].length >= WHOLE_NOTE:
        return
    steps = [written_step(note, lowered) for note in group.notes]
    tops = [frame.row(step + step % 2) for step in steps]
    feet = [frame.row(step - step % 2) for step in steps]
    low = sum(steps) < len(steps) * (BOTTOM_LINE + TOP_LINE) // 2
    room_above, room_below = min(tops) > frame.sign_rows, max(feet) < frame.height - 1
    up = room_above and (low or not room_below)
    x_of_stem = 2 if up else 1
    columns = [system.column(note.beat) + x_of_stem for note in group.notes]
    end = max(frame.sign_rows, min(tops) - 2) if up else min(frame.height - 1, max(feet) + 2)
    for x, top, foot in zip(columns, tops, feet, strict=True):
        for row in range(end, top) if up else range(foot + 1, end + 1):
            canvas.put(x, row, "│", Ink.SIGN)
        _join(canvas, x, top if up else foot)
    if group.beams:
        _draw_beam(canvas, group, columns, end, up)


def _join(canvas: Canvas, x: int, row: int) -> None:
    """Reach across the empty half row between a head in a space and its stem."""
    half = canvas.at(x, row)
    canvas.put(x, row, STUBS.get(half, half), canvas.ink_at(x, row))


def _draw_beam(canvas: Canvas, group: Group, columns: list[int], row: int, up: bool) -> None:
    beam = _beam_lines(group, columns)
    corners = CORNERS[up]
    for x in columns:
        double = "═" in (beam.get(x - 1), beam.get(x + 1))
        side = 0 if x == columns[0] else 2 if x == columns[-1] else 1
        beam[x] = corners[double][side]
    if group.tuplet is not None:
        beam[(columns[0] + columns[-1]) // 2] = str(group.tuplet)
    for x, mark in beam.items():
        if canvas.ink_at(x, row) not in _OF_A_NOTE:  # a leap may reach into the beam's row
            canvas.put(x, row, mark, Ink.SIGN)


def _beam_lines(group: Group, columns: list[int]) -> dict[int, str]:
    """Heavy for one beam, double for more: what two neighbours share, and half beams and flags."""
    counts = [beams(note.length) for note in group.notes]
    ends = [*columns[1:], columns[-1] + 2]
    shared = [min(pair) for pair in pairwise(counts)] + ([counts[0]] if len(counts) == 1 else [])
    lines: dict[int, str] = {}
    for x, end, count in zip(columns, ends, shared, strict=False):
        lines |= dict.fromkeys(range(x + 1, end), "━" if count == 1 else "═")
    for place, count in enumerate(counts):
        if count > 1 and not any(both > 1 for both in shared[max(0, place - 1) : place + 1]):
            x, step = columns[place], -1 if place else 1
            half = abs(columns[place + step] - x) // 2
            lines |= dict.fromkeys(range(x + step, x + step * (half + 1), step), "═")
    return lines


def _draw_rest(
    canvas: Canvas, frame: Frame, system: System, beat: Fraction, length: Fraction
) -> None:
    x = (system.column(beat) + system.column(beat + length)) // 2
    middle = (BOTTOM_LINE + TOP_LINE) // 2
    for row in (frame.row(middle + 2), frame.row(middle), frame.row(middle - 2)):
        canvas.put(x, row, REST, Ink.NOTE)


def _draw_starts(canvas: Canvas, frame: Frame, system: System, sheet: Sheet) -> None:
    row = frame.sign_rows - 1
    starts = STARTS | ({Start.TONGUED: "T"} if sheet.doubled else {})
    for note in system.notes:
        canvas.put(system.column(note.beat) + 1, row, starts.get(note.start, ""), Ink.SIGN)
    left = system.left
    for note, after in zip(system.notes, (*system.notes[1:], None), strict=True):
        x = system.column(note.beat) + 1
        slurred_from, slurs_on = note.index in sheet.slurred, note.index + 1 in sheet.slurred
        if slurred_from:
            canvas.put(left, row, "─" * (x - left) + "─╮", Ink.SIGN)
        if slurs_on:
            right = system.right if after is None else system.column(after.beat) + 1
            canvas.put(x, row, ("──" if slurred_from else "╭─") + "─" * (right - x - 2), Ink.SIGN)
        left = x + 2


def _draw_octave_signs(canvas: Canvas, frame: Frame, system: System, sheet: Sheet) -> None:
    """On a row of their own, or on the starts' row where there is no room for both.

    There the label stands left of its first note's start, and only slur lines give way to dashes.
    """
    label = octave_sign.LABEL
    for first, last in octave_sign.spans(system.notes, sheet.lowered):
        x = system.column(first.beat) - (0 if frame.octave_row else len(label) - 1)
        end = system.column(last.beat) + 2
        canvas.put(x, 0, label, Ink.SIGN)
        for column in range(x + len(label), end):
            if canvas.at(column, 0) in " ─":
                canvas.put(column, 0, "╌", Ink.SIGN)
        canvas.put(end, 0, "┐", Ink.SIGN)


def _draw_breaths(canvas: Canvas, frame: Frame, system: System) -> None:
    for note, after in zip(system.notes, (*system.notes[1:], None), strict=True):
        if note.breath_after:
            x = (system.right if after is None else system.column(after.beat)) - 1
            canvas.put(x, frame.sign_rows - 1, BREATH, Ink.NOTE)
