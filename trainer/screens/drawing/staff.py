"""A system of music drawn in text.

One row of cells holds one staff line; a space is half of the row above and half of the row below.
A head on a line fills its row, a head in a space the lower half of one row and the upper half of
the next, so that every step of the scale is half a row, and heads are as tall as the space.
"""

from __future__ import annotations

from fractions import Fraction

from trainer.screens.drawing import clef
from trainer.screens.drawing.accidentals import signature_places
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.note_values import HALF_NOTE, WrittenPart, WrittenRest, groups
from trainer.screens.drawing.signs import draw_signs
from trainer.screens.drawing.staff_rows import BOTTOM_LINE, TOP_LINE, Frame, Sheet, written_step
from trainer.screens.drawing.stems import draw_figure, draw_stems
from trainer.screens.drawing.systems import CLEF_COLUMNS, System

DOT_ON_LINE, DOT_IN_SPACE = "▘", "▖"
"""A dot stands in a space: the note's own, or the one above its line."""
TIE = "‿"
REST = "▚▞▚"
"""From its upper row to its lowest."""


def staff_rows(
    system: System, sheet: Sheet, frame: Frame, width: int, care: frozenset[int] = frozenset()
) -> tuple[Row, ...]:
    """The system drawn; notes that need care, by index, are inked apart."""
    canvas = Canvas(width, frame.height)
    _draw_lines(canvas, frame, min(width, system.right))
    _draw_clef(canvas, frame)
    _draw_signature(canvas, frame, sheet.signature)
    _draw_bar_lines(canvas, frame, system, sheet)
    for rest in sheet.written.rests:
        if system.holds(rest.beat):
            _draw_rest(canvas, frame, system, rest)
    parts = [part for part in sheet.written.parts if system.holds(part.beat)]
    for part in parts:
        _draw_note(canvas, frame, system, sheet, part, part.note.index in care)
    for group in groups(parts):
        draw_stems(canvas, frame, system, group, sheet.lowered)
    for tuplet in sheet.written.tuplets:
        if all(system.holds(part.beat) for part in tuplet):
            draw_figure(canvas, frame, system, tuplet, sheet.lowered)
    for part in parts:
        _draw_ties(canvas, frame, system, sheet, part)
    draw_signs(canvas, frame, system, sheet)
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
    canvas: Canvas, frame: Frame, system: System, sheet: Sheet, part: WrittenPart, care: bool
) -> None:
    step, x = written_step(part.note, sheet.lowered), system.column(part.beat) + 1
    _draw_ledger_lines(canvas, frame, step, x)
    own = Ink.SIGN if part.note.index in sheet.others else Ink.NOTE
    ink = Ink.CARE if care else own
    row = frame.row(step + step % 2)
    for offset, text in enumerate(_head(step, part.symbol.value)):
        canvas.put(x, row + offset, text, ink)
    dot = DOT_IN_SPACE if step % 2 else DOT_ON_LINE
    canvas.put(x + 2, row, dot * part.symbol.dots, Ink.NOTE)
    sign = "" if part.symbol.tied_back else sheet.signs.get(part.note.index, "")
    canvas.put(x - len(sign), _sign_row(frame, step, sign), sign, Ink.NOTE)


def _draw_ties(
    canvas: Canvas, frame: Frame, system: System, sheet: Sheet, part: WrittenPart
) -> None:
    """The two ends of each tie, as at a line break; the middle would hide in the staff."""
    step, x = written_step(part.note, sheet.lowered), system.column(part.beat)
    row = frame.row(step + step % 2)
    if part.symbol.tied_on:
        canvas.put(x + 3 + part.symbol.dots, row, TIE, Ink.SIGN)
    if part.symbol.tied_back:
        canvas.put(x, row, TIE, Ink.SIGN)


def _head(step: int, value: Fraction) -> tuple[str, ...]:
    """One row for a head on a line, two halves for a head in a space; hollow from a half note."""
    hollow = value >= HALF_NOTE
    if step % 2 == 0:
        return ("()",) if hollow else ("██",)
    return ("┏┓", "┗┛") if hollow else ("▄▄", "▀▀")


def _draw_ledger_lines(canvas: Canvas, frame: Frame, step: int, x: int) -> None:
    above = range(TOP_LINE + 2, step + 1, 2)
    below = range(BOTTOM_LINE - 2, step - 1, -2)
    for line in (*above, *below):
        canvas.put(x - 1, frame.row(line), "╶──╴", Ink.LINE)


def _draw_rest(canvas: Canvas, frame: Frame, system: System, rest: WrittenRest) -> None:
    x = (system.column(rest.beat) + system.column(rest.beat + rest.length)) // 2
    middle = (BOTTOM_LINE + TOP_LINE) // 2
    for row, mark in enumerate(REST, frame.row(middle + 2)):
        canvas.put(x, row, mark, Ink.NOTE)
