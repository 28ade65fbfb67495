"""What stands above the staff: slurs and other starts, octave signs, breaths."""

from __future__ import annotations

from itertools import zip_longest

from trainer.music.note import Note, Start
from trainer.screens.drawing import octave_sign
from trainer.screens.drawing.canvas import Canvas, Ink
from trainer.screens.drawing.sheet import Frame, Sheet
from trainer.screens.drawing.systems import System

STARTS = {
    Start.LEGATO_TONGUE: "–",
    Start.BREATH: "h",
    Start.SILENT_AIR: "h",
    Start.BACK_TONGUED: "K",
}
BREATH = "’"


def draw_signs(canvas: Canvas, frame: Frame, system: System, sheet: Sheet) -> None:
    """Draw every sign above a system."""
    _draw_starts(canvas, frame, system, sheet)
    _draw_octave_signs(canvas, frame, system, sheet)
    _draw_breaths(canvas, frame, system)


def _with_next(notes: tuple[Note, ...]) -> list[tuple[Note, Note | None]]:
    return [(note, after) for note, after in zip_longest(notes, notes[1:]) if note is not None]


def _draw_starts(canvas: Canvas, frame: Frame, system: System, sheet: Sheet) -> None:
    row = frame.sign_rows - 1
    starts = STARTS | ({Start.TONGUED: "T"} if sheet.doubled else {})
    for note in system.notes:
        canvas.put(system.column(note.beat) + 1, row, starts.get(note.start, ""), Ink.SIGN)
    left = system.left
    for note, after in _with_next(system.notes):
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
    for note, after in _with_next(system.notes):
        if note.breath_after:
            x = (system.right if after is None else system.column(after.beat)) - 1
            canvas.put(x, frame.sign_rows - 1, BREATH, Ink.NOTE)
