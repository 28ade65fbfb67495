"""The ladder of a speed climb: where it began, where it stands, where it leads, the best so far."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.due_mark import ARROW
from trainer.screens.drawing.large_figures import FIGURE_ROWS, figure_rows
from trainer.session.view import ClimbShown

LADDER_ROWS = FIGURE_ROWS + 3
"""The figures, the mark under them, the rail, the best."""
PLAYED, RAIL = "●", "─"
BEST = "best so far"
MARGIN = 12
"""Columns left free at either side."""


def ladder_rows(
    climb: ClimbShown, tempos: Sequence[float], now_bpm: float, width: int
) -> tuple[Row, ...]:
    """The tempo of now in large figures over its place between the first and the last."""
    canvas = Canvas(width, LADDER_ROWS)
    low = min(climb.from_bpm, now_bpm, *tempos) if tempos else min(climb.from_bpm, now_bpm)
    high = max(climb.to_bpm, now_bpm)
    left, long = MARGIN, max(1, width - 2 * MARGIN)

    def column(bpm: float) -> int:
        return left + round((bpm - low) / max(1.0, high - low) * (long - 1))

    lines = figure_rows(f"{now_bpm:.0f}")
    x = min(max(0, column(now_bpm) - len(lines[0]) // 2), width - len(lines[0]))
    for row, line in enumerate(lines):
        canvas.put(x, row, line, Ink.WORDS)
    canvas.put(column(now_bpm), FIGURE_ROWS, ARROW, Ink.DUE)
    rail = FIGURE_ROWS + 1
    canvas.put(left, rail, RAIL * long, Ink.LINE)
    for bpm in tempos:
        canvas.put(column(bpm), rail, PLAYED, Ink.NOTE)
    start = f"from {climb.from_bpm:.0f}"
    canvas.put(max(0, left - 1 - len(start)), rail, start, Ink.QUIET)
    canvas.put(left + long + 1, rail, f"to {climb.to_bpm:.0f}", Ink.QUIET)
    if climb.best_bpm is not None:
        words = f"{BEST} {climb.best_bpm:.0f}"
        at = min(max(0, column(climb.best_bpm) - len(words) // 2), width - len(words))
        canvas.put(at, rail + 1, words, Ink.WORDS)
    return canvas.rows()
