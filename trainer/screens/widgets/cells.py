"""A widget that shows drawn rows and repaints only what has changed."""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region, Size
from textual.strip import Strip

from trainer.screens.drawing.canvas import Ink, Row
from trainer.screens.widgets.still import Still


class Cells(Still):
    """Rows of inked cells, centred in the widget; never asks for a new layout."""

    COMPONENT_CLASSES = {f"cells--{ink.value}" for ink in Ink}

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._rows: tuple[Row, ...] = ()
        self._widest = 0
        self._styles: dict[Ink, Style] = {}

    def show(self, rows: tuple[Row, ...]) -> None:
        """Show these rows instead of the last ones."""
        before, self._rows = self._rows, rows
        self._widest = max((len(row.text) for row in rows), default=0)
        if len(before) != len(rows):
            self.repaint()
            return
        left, top = self._offset()
        for y, (old, new) in enumerate(zip(before, rows, strict=True)):
            if old != new:
                start, end = _changed(old, new)
                self.repaint(Region(left + start, top + y, end - start, 1))

    @property
    def rows(self) -> tuple[Row, ...]:
        """What is shown."""
        return self._rows

    def notify_style_update(self) -> None:
        """Forget the colours of the theme that was."""
        self._styles = {}
        super().notify_style_update()

    def render_line(self, y: int) -> Strip:
        """One line of the widget."""
        width = self.size.width
        left, top = self._offset()
        blank = self._style(Ink.PAPER)
        if not 0 <= y - top < len(self._rows):
            return Strip.blank(width, blank)
        row = self._rows[y - top]
        segments = [Segment(text, self._style(ink)) for text, ink in few_runs(row)]
        return Strip([Segment(" " * left, blank), *segments]).adjust_cell_length(width, blank)

    def _offset(self) -> tuple[int, int]:
        return centred(self._widest, len(self._rows), self.size)

    def _style(self, ink: Ink) -> Style:
        if ink not in self._styles:
            self._styles[ink] = self.get_component_rich_style(f"cells--{ink.value}")
        return self._styles[ink]


def centred(width: int, height: int, within: Size) -> tuple[int, int]:
    """Column and row at which something so large begins, to stand in the middle."""
    return max(0, (within.width - width) // 2), max(0, (within.height - height) // 2)


ON_PAPER = frozenset(Ink) - {Ink.DUE, Ink.BAND, Ink.BAND_LINE}
"""Inks whose blanks look all the same."""


def few_runs(row: Row) -> list[tuple[str, Ink]]:
    """The row's runs, where blanks between two inks go with one of them: less is sent."""
    runs: list[tuple[str, Ink]] = []
    for text, ink in row.runs():
        before, ink_before = runs[-1] if runs else ("", Ink.DUE)
        if {ink, ink_before} <= ON_PAPER and (not text.strip() or not before.strip()):
            runs[-1] = before + text, ink if text.strip() else ink_before
        elif ink is ink_before:
            runs[-1] = before + text, ink
        else:
            runs.append((text, ink))
    return runs


def _changed(old: Row, new: Row) -> tuple[int, int]:
    """First and last column (exclusive) that differ."""
    if len(old.text) != len(new.text):
        return 0, max(len(old.text), len(new.text))
    before = list(zip(old.text, old.inks, strict=True))
    after = list(zip(new.text, new.inks, strict=True))
    different = [
        column for column, pair in enumerate(zip(before, after, strict=True)) if pair[0] != pair[1]
    ]
    return different[0], different[-1] + 1
