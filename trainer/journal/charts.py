"""Small charts of block characters. Direction and size show without colour."""

from __future__ import annotations

import math
from collections.abc import Sequence

_EIGHTHS = " ▏▎▍▌▋▊▉█"
_UPPER, _LOWER, _BOTH = "▀", "▄", "█"
_BEYOND_TOP, _BEYOND_BOTTOM = "↑", "↓"


def bar(value: float, full: float, width: int) -> str:
    """A bar to the right, `width` characters long when `value` reaches `full`."""
    if full <= 0 or value <= 0:
        return " " * width
    eighths = round(8 * width * min(value / full, 1.0))
    whole, part = divmod(max(eighths, 1), 8)
    return ("█" * whole + (_EIGHTHS[part] if part else "")).ljust(width)


def columns(values: Sequence[float], row_height: float, rows: int) -> tuple[list[str], list[str]]:
    """Columns up and down from a middle line: the rows above it and below it, top to bottom.

    Each value fills its column from the middle line to its height, to half a row; one beyond the
    last row ends in an arrow.
    """
    halves = [round(2 * value / row_height) for value in values]
    above = ["".join(_cell(half, row, rows) for half in halves) for row in range(rows, 0, -1)]
    below = ["".join(_cell(half, -row, rows) for half in halves) for row in range(1, rows + 1)]
    return above, below


def _cell(halves: int, row: int, rows: int) -> str:
    """One character of a column; `row` counts from the middle line, negative below it."""
    if halves * row <= 0:
        return " "
    beyond = _BEYOND_TOP if row > 0 else _BEYOND_BOTTOM
    filled = abs(halves) - 2 * (abs(row) - 1)
    if abs(row) == rows and filled > 2:
        return beyond
    if filled >= 2:
        return _BOTH
    if filled == 1:
        return _LOWER if row > 0 else _UPPER
    return " "


def row_height(values: Sequence[float], rows: int) -> float:
    """Cents a row so that all values fit: 5, 10 or 20."""
    furthest = max((abs(value) for value in values), default=0.0)
    return next((step for step in (5.0, 10.0) if math.floor(furthest) <= step * rows), 20.0)
