"""A grid of character cells to draw on, each with the kind of ink it is drawn in."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby


class Ink(StrEnum):
    """What a cell shows; the style sheet gives each its colour."""

    PAPER = "paper"
    LINE = "line"
    """Staff lines, bar lines, the middle of the trail."""
    SIGN = "sign"
    """Clef, signature, accidentals, slurs, stems."""
    NOTE = "note"
    CARE = "care"
    """What needs care."""
    DUE = "due"
    """The note now due."""
    BAND = "band"
    """Paper behind the note now due."""
    BAND_LINE = "band-line"
    TRUE = "true"
    """Heard where it should stand."""
    OFF = "off"
    """Heard away from where it should stand."""
    WORDS = "words"
    QUIET = "quiet"


QUARTERS = " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"
"""Cells by the quarters that are filled: 1 upper left, 2 upper right, 4 and 8 below them."""


@dataclass(frozen=True)
class Row:
    """One finished line of cells."""

    text: str
    inks: tuple[Ink, ...]

    def runs(self) -> list[tuple[str, Ink]]:
        """The text cut where the ink changes."""
        runs: list[tuple[str, Ink]] = []
        start = 0
        for ink, cells in groupby(self.inks):
            end = start + len(list(cells))
            runs.append((self.text[start:end], ink))
            start = end
        return runs


class Canvas:
    """Cells to draw on; what falls outside is cut off."""

    def __init__(self, width: int, height: int) -> None:
        self.width = width
        self.height = height
        self._cells = [[" "] * width for _ in range(height)]
        self._inks = [[Ink.PAPER] * width for _ in range(height)]

    def put(self, x: int, y: int, text: str, ink: Ink) -> None:
        """Draw text from a cell to the right."""
        if not 0 <= y < self.height:
            return
        for column, character in enumerate(text, x):
            if 0 <= column < self.width:
                self._cells[y][column] = character
                self._inks[y][column] = ink

    def paste(self, rows: tuple[Row, ...], y: int) -> None:
        """Finished rows from one downward, over what was there."""
        for place, row in enumerate(rows, y):
            x = 0
            for text, ink in row.runs():
                self.put(x, place, text, ink)
                x += len(text)

    def dot(self, x: int, y: int, ink: Ink) -> None:
        """Fill a quarter of a cell, counted in half columns and half rows; quarters add up."""
        column, row = x // 2, y // 2
        if 0 <= row < self.height and 0 <= column < self.width:
            quarter = 1 << (2 * (y % 2) + x % 2)
            before = QUARTERS.find(self._cells[row][column])
            self._cells[row][column] = QUARTERS[max(before, 0) | quarter]
            self._inks[row][column] = ink

    def at(self, x: int, y: int) -> str:
        """The character in a cell; a blank outside."""
        if 0 <= y < self.height and 0 <= x < self.width:
            return self._cells[y][x]
        return " "

    def ink_at(self, x: int, y: int) -> Ink:
        """The ink of a cell; paper outside."""
        if 0 <= y < self.height and 0 <= x < self.width:
            return self._inks[y][x]
        return Ink.PAPER

    def rows(self) -> tuple[Row, ...]:
        """The finished drawing."""
        return tuple(
            Row("".join(cells), tuple(inks))
            for cells, inks in zip(self._cells, self._inks, strict=True)
        )


def joined(left: tuple[Row, ...], right: tuple[Row, ...], column: int) -> tuple[Row, ...]:
    """Rows of one drawing up to a column, then of another."""
    return tuple(
        Row(one.text[:column] + other.text[column:], (*one.inks[:column], *other.inks[column:]))
        for one, other in zip(left, right, strict=True)
    )
