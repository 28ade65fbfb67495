"""Out of time: what the due note needs now, and a line that grows under it while it stands."""

from __future__ import annotations

from trainer.coach.advice import Ask, Standing
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.systems import System

STANDS, TO_STAND = "━", "┄"
MARKS = {Ask.HIGHER: "▲", Ask.LOWER: "▼", Ask.HOLD: "━", Ask.OTHER: "×", Ask.BEGIN: "·"}
"""A shape for each, so that no colour is needed."""


def standing_row(system: System, standing: Standing, width: int) -> tuple[Row, ...]:
    """One row under the trail: the line, and words beside it where there is room."""
    canvas = Canvas(width, 1)
    columns = draw_standing(canvas, 0, system, standing)
    if columns:
        words, ink = standing_words(standing)
        after = columns.stop + 2
        fits = after + len(words) <= width
        canvas.put(after if fits else max(0, columns.start - 2 - len(words)), 0, words, ink)
    return canvas.rows()


def draw_standing(canvas: Canvas, row: int, system: System, standing: Standing) -> range:
    """The line that grows while the note stands; the columns it takes."""
    note = next((note for note in system.notes if note.index == standing.index), None)
    if note is None:
        return range(0)
    left, right = system.column(note.beat) + 1, system.column(note.beat + note.length)
    length = max(4, right - left)
    canvas.put(left, row, TO_STAND * length, Ink.LINE)
    canvas.put(left, row, STANDS * round(standing.share * length), Ink.TRUE)
    return range(left, left + length)


def standing_words(standing: Standing) -> tuple[str, Ink]:
    """What the note needs now, with its sign: '▲ a little higher'."""
    ink = Ink.TRUE if standing.ask is Ask.HOLD else Ink.OFF
    return f"{MARKS[standing.ask]} {standing.ask}", ink
