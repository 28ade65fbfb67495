"""Out of time: what the due note needs now, and a line that grows under it while it stands."""

from __future__ import annotations

from trainer.coach.advice import Ask, Standing
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.systems import System

STANDS, TO_STAND = "━", "┄"
MARKS = {Ask.HIGHER: "▲", Ask.LOWER: "▼", Ask.HOLD: "═", Ask.OTHER: "×", Ask.BEGIN: "·"}
"""A shape for each, so that no colour is needed."""


def standing_row(system: System, standing: Standing, width: int) -> tuple[Row, ...]:
    """One row under the trail: the line, and words beside it where there is room."""
    canvas = Canvas(width, 1)
    note = next((note for note in system.notes if note.index == standing.index), None)
    if note is None:
        return canvas.rows()
    left, right = system.column(note.beat) + 1, system.column(note.beat + note.length)
    length = max(4, right - left)
    stood = round(standing.share * length)
    ink = Ink.TRUE if standing.ask is Ask.HOLD else Ink.OFF
    canvas.put(left, 0, TO_STAND * length, Ink.LINE)
    canvas.put(left, 0, STANDS * stood, Ink.TRUE)
    words = f"{MARKS[standing.ask]} {standing.ask}"
    after = left + length + 2
    fits = after + len(words) <= width
    canvas.put(after if fits else max(0, left - 2 - len(words)), 0, words, ink)
    return canvas.rows()
