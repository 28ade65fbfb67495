"""What stands above the staff: slurs and other starts, octave signs, breaths."""

from __future__ import annotations

from itertools import zip_longest

from trainer.music.note import Mark, Note, Ornament, Start
from trainer.screens.drawing import octave_sign
from trainer.screens.drawing.canvas import Canvas, Ink
from trainer.screens.drawing.staff_rows import Frame, Sheet
from trainer.screens.drawing.systems import System

STARTS = {
    Start.LEGATO_TONGUE: "–",
    Start.BREATH: "h",
    Start.SILENT_AIR: "h",
    Start.BACK_TONGUED: "K",
}
ORNAMENTS = {
    Ornament.TRILL: "tr",
    Ornament.TURN: "~",
    Ornament.INVERTED_TURN: "~",
    Ornament.MORDENT: "m",
    Ornament.INVERTED_MORDENT: "m",
}
FERMATA = "hold"
GRACES = "gr"
CAESURA = "//"
MARKS = {Mark.STACCATO: "·", Mark.TENUTO: "–", Mark.ACCENT: ">"}
BREATH = "’"
HARMONIC = "○"
OTHERS_TURN = "partner"


def draw_signs(canvas: Canvas, frame: Frame, system: System, sheet: Sheet) -> None:
    """Draw every sign above a system."""
    _draw_starts(canvas, frame, system, sheet)
    _draw_harmonics(canvas, frame, system)
    _draw_ornaments(canvas, frame, system)
    _draw_octave_signs(canvas, frame, system, sheet)
    _draw_breaths(canvas, frame, system)
    _draw_turns(canvas, frame, system, sheet)


def _with_next(notes: tuple[Note, ...]) -> list[tuple[Note, Note | None]]:
    return [(note, after) for note, after in zip_longest(notes, notes[1:]) if note is not None]


def _draw_starts(canvas: Canvas, frame: Frame, system: System, sheet: Sheet) -> None:
    row = frame.sign_rows - 1
    starts = STARTS | ({Start.TONGUED: "T"} if sheet.doubled else {})
    for note in system.notes:
        sign = starts.get(note.start) or (MARKS[note.mark] if note.mark is not None else "")
        canvas.put(system.column(note.beat) + 1, row, sign, Ink.SIGN)
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


def _draw_harmonics(canvas: Canvas, frame: Frame, system: System) -> None:
    """A small circle over each note to be played on a lower note's fingering."""
    for note in system.notes:
        if note.harmonic_of is not None:
            canvas.put(system.column(note.beat) + 2, frame.sign_rows - 1, HARMONIC, Ink.NOTE)


def _draw_ornaments(canvas: Canvas, frame: Frame, system: System) -> None:
    """What is played over a note or before it, in the letters a player knows."""
    for note in system.notes:
        sign = FERMATA if note.fermata else ORNAMENTS[note.ornament] if note.ornament else ""
        if note.graces:
            canvas.put(system.column(note.beat) - 1, frame.sign_rows - 1, GRACES, Ink.NOTE)
        canvas.put(system.column(note.beat) + 2, frame.sign_rows - 1, sign, Ink.NOTE)


def _draw_turns(canvas: Canvas, frame: Frame, system: System, sheet: Sheet) -> None:
    """Where the partner's turn begins or goes on, in place of its slurs; the rest is the player's.

    A faint ink shows whose notes they are, the word says it without any.
    """
    own = True
    for note in system.notes:
        if own and note.index in sheet.others:
            x = system.column(note.beat) + 1
            canvas.put(x, frame.sign_rows - 1, OTHERS_TURN + " ", Ink.SIGN)
        own = note.index not in sheet.others


def _draw_octave_signs(canvas: Canvas, frame: Frame, system: System, sheet: Sheet) -> None:
    """On a row of their own, or on the starts' row where there is no room for both.

    There the label stands left of its first note's start, and only slur lines give way to dashes.
    """
    label = octave_sign.LABEL
    for first, last in octave_sign.spans(system.notes, sheet.lowered):
        x = system.column(first.beat) - (0 if frame.octave_row else len(label) - 1)
        end = max(system.column(last.beat) + 2, x + len(label))
        canvas.put(x, 0, label, Ink.SIGN)
        for column in range(x + len(label), end):
            if canvas.at(column, 0) in " ─":
                canvas.put(column, 0, "╌", Ink.SIGN)
        canvas.put(end, 0, "┐", Ink.SIGN)


def _draw_breaths(canvas: Canvas, frame: Frame, system: System) -> None:
    for note, after in _with_next(system.notes):
        if note.breath_after:
            x = (system.right if after is None else system.column(after.beat)) - 1
            sign = CAESURA if note.stop_after else BREATH
            canvas.put(x, frame.sign_rows - 1, sign, Ink.NOTE)
