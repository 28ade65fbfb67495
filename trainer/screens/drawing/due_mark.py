"""Marking the note now due: a band through the staff, an arrow over it, and the head itself."""

from __future__ import annotations

from trainer.screens.drawing.canvas import Ink, Row
from trainer.screens.drawing.scale import COMPACT

ARROW, WIDE_ARROW = "◥◤", "◥██◤"
_IN_BAND = {Ink.PAPER: Ink.BAND, Ink.LINE: Ink.BAND_LINE}


def with_due(
    rows: tuple[Row, ...], column: int, arrow_row: int, width: int = COMPACT.band
) -> tuple[Row, ...]:
    """The staff with a band of so many columns over the note whose beat stands at `column`."""
    arrow = ARROW if width == COMPACT.band else WIDE_ARROW
    return tuple(
        _banded(row, column, width, arrow if place == arrow_row else "")
        for place, row in enumerate(rows)
    )


def marker_only(rows: tuple[Row, ...], column: int, arrow_row: int, width: int) -> tuple[Row, ...]:
    """Only the arrow, in its own row: what lies under a picture is left alone."""
    marked = with_due(rows, column, arrow_row, width)
    return tuple(marked[row] if row == arrow_row else rows[row] for row in range(len(rows)))


def _banded(row: Row, column: int, width: int, arrow: str) -> Row:
    end = min(column + width, len(row.text))
    inks = tuple(_IN_BAND.get(ink, Ink.DUE) for ink in row.inks[column:end])
    text = row.text
    if arrow:
        text = text[: column + 1] + arrow + text[column + 1 + len(arrow) :]
        inks = (inks[0], *(Ink.DUE for _ in arrow), *inks[1 + len(arrow) :])
    return Row(text, row.inks[:column] + inks + row.inks[end:])
