"""Settling: how far the due note is from true, what it needs, and how long it has stood."""

from __future__ import annotations

from trainer.coach.advice import Standing
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.faces.heard_so_far import HeardSoFar
from trainer.screens.drawing.faces.held_tuning import FIGURE_BLOCK, line_rows, odd, put_cents
from trainer.screens.drawing.standing import draw_standing, standing_row, standing_words
from trainer.screens.drawing.systems import System

FIGURE_COLUMNS = 19
"""Of the widest figure and a blank."""
FEWEST_ROWS = FIGURE_BLOCK + 3 + 1
"""With fewer there are words alone, beside the line that grows."""


def settling_rows(
    round_: Round, system: System, heard: HeardSoFar, width: int, height: int
) -> tuple[Row, ...]:
    """Figure and words, the line, and the time it has stood."""
    assert heard.standing is not None
    canvas = Canvas(width, height)
    roomy = height >= FEWEST_ROWS
    rows = odd(height - 1 - (FIGURE_BLOCK if roomy else 0))
    canvas.paste(line_rows(round_, system, heard, width, rows), height - 1 - rows)
    if roomy:
        _draw_figure(canvas, heard.standing, round_, system.left)
        draw_standing(canvas, height - 1, system, heard.standing)
    else:
        canvas.paste(standing_row(system, heard.standing, width), height - 1)
    return canvas.rows()


def _draw_figure(canvas: Canvas, standing: Standing, round_: Round, left: int) -> None:
    if standing.cents is not None:
        put_cents(canvas, left + 1, 0, standing.cents, round_)
    words, ink = standing_words(standing)
    x = left + 1 + FIGURE_COLUMNS
    canvas.put(x, 0, words, ink)
    asked_s = round_.manner.stands_s or 0.0
    canvas.put(x, 2, f"stood {standing.share * asked_s:.1f} s of {asked_s:g} s", Ink.QUIET)
