"""Swells: how loud each note grows inside its hairpin, and where its pitch goes meanwhile."""

from __future__ import annotations

from collections.abc import Callable

from trainer.music.note import Note
from trainer.routine.round import Round, Swell
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.faces.heard_so_far import HeardSoFar
from trainer.screens.drawing.faces.held_tuning import line_rows, odd
from trainer.screens.drawing.systems import System
from trainer.screens.drawing.time_line import timing_row
from trainer.screens.drawing.trail import Trail

LOUD = "loud"
SWELL_ROWS = (3, 5, 7)
"""Heights of the swelling body, the largest that leaves the pitch its rows."""
PITCH_ROWS = 5
FIRST_COLUMNS = 3
"""How loud a note begins: the mean over its first columns, the attack left out."""

ASKED: dict[Swell, Callable[[float], float]] = {
    Swell.LOUDER: lambda place: place,
    Swell.SOFTER: lambda place: 1 - place,
    Swell.THERE_AND_BACK: lambda place: 1 - abs(2 * place - 1),
}
"""How far open the hairpin is from its beginning, 0, to its end, 1."""


def swell_rows(
    round_: Round, system: System, heard: HeardSoFar, width: int, height: int
) -> tuple[Row, ...]:
    """The body inside the hairpin, the pitch under it, the time line."""
    canvas = Canvas(width, height)
    body = max((rows for rows in SWELL_ROWS if rows + PITCH_ROWS + 1 <= height), default=3)
    rows = odd(height - 1 - body)
    draw_swells(canvas, system, heard.level_db or {}, body, round_.manner.swell)
    canvas.paste(line_rows(round_, system, heard, width, rows), body)
    canvas.paste(timing_row(system, heard.answers, width), height - 1)
    return canvas.rows()


def draw_swells(
    canvas: Canvas, system: System, level_db: Trail, rows: int, asked: Swell | None
) -> None:
    """Each note's hairpin, and in it a body as thick as the note is loud: a decibel a half row."""
    canvas.put(0, rows // 2, LOUD, Ink.QUIET)
    for note in system.sounding:
        columns = _columns(system, note)
        if asked is not None:
            for column in columns:
                place = _place(system, note, column)
                _draw_edges(canvas, column, rows, 1 + round(ASKED[asked](place) * (2 * rows - 2)))
        heard = [column for column in columns if column in level_db]
        begins = [level_db[column] for column in heard[1 : 1 + FIRST_COLUMNS]]
        if not begins:
            continue
        begin_db = sum(begins) / len(begins)
        thick_at_first = 2 * rows - 1 if asked is Swell.SOFTER else 1
        for column in heard:
            thick = round(level_db[column] - begin_db) + thick_at_first
            _draw_body(canvas, column, rows, min(2 * rows, max(1, thick)))


def _columns(system: System, note: Note) -> range:
    first = max(system.left, system.column(note.beat) + 1)
    return range(first, min(system.right, system.column(note.beat + note.length)))


def _place(system: System, note: Note, column: int) -> float:
    """How far into its note a column is, 0 to 1."""
    columns = float(note.length * system.beat_columns)
    return min(1.0, (column - system.column(note.beat)) / columns)


def _draw_edges(canvas: Canvas, column: int, rows: int, thick: int) -> None:
    low = rows - thick / 2
    for x in (2 * column, 2 * column + 1):
        canvas.dot(x, max(0, int(low)), Ink.LINE)
        canvas.dot(x, min(2 * rows - 1, int(low + thick)), Ink.LINE)


def _draw_body(canvas: Canvas, column: int, rows: int, thick: int) -> None:
    first = rows - (thick + 1) // 2
    for y in range(first, first + thick):
        for x in (2 * column, 2 * column + 1):
            canvas.dot(x, y, Ink.TRUE)
