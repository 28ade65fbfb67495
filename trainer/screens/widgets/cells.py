"""A widget that shows drawn rows and repaints only what has changed."""

from __future__ import annotations

from collections.abc import Callable

from rich.segment import Segment
from textual.geometry import Region, Size
from textual.strip import Strip

from trainer.screens.appearance import Appearance
from trainer.screens.drawing.canvas import Ink, Row
from trainer.screens.widgets.still import Still

Drawing = Callable[[int, int], tuple[Row, ...]]
"""Draws for so many columns and rows."""
EMPTY = Row("", ())


class Cells(Still):
    """Rows of inked cells, centred in the widget; never asks for a new layout."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._rows: tuple[Row, ...] = ()
        self._widest = 0
        self._made: dict[int, tuple[Row, Strip]] = {}
        self._made_for: tuple[object, ...] = ()
        self._drawing: Drawing | None = None
        self._drawn_for = Size()

    def draw(self, drawing: Drawing) -> None:
        """Show what this draws for the widget's size, now and whenever it is another."""
        self._drawing, self._drawn_for = drawing, self.size
        if self.size:
            self.show(drawing(*self.size))

    def show(self, rows: tuple[Row, ...]) -> None:
        """Show these rows instead of the last ones."""
        before = self._rows
        self._take(rows)
        if len(before) != len(rows):
            self.repaint()
            return
        left, top = self._offset()
        for y, (old, new) in enumerate(zip(before, rows, strict=True)):
            if old != new:
                start, end = _changed(old, new)
                self.repaint(Region(left + start, top + y, end - start, 1))

    def _take(self, rows: tuple[Row, ...]) -> None:
        self._rows = rows
        self._widest = max((len(row.text) for row in rows), default=0)

    @property
    def rows(self) -> tuple[Row, ...]:
        """What is shown."""
        return self._rows

    def notify_style_update(self) -> None:
        """Forget the colours of the theme that was."""
        self._made = {}
        super().notify_style_update()

    def render_lines(self, crop: Region) -> list[Strip]:
        """The rows asked for; in a new size they are drawn now, so that no frame is empty."""
        if self._drawing is not None and self._drawn_for != self.size:
            self._drawn_for = self.size
            self._take(self._drawing(*self.size))
        left, top = self._offset()
        made_for = (self.size, left, top, *self.get_line_filters())
        if made_for != self._made_for:
            self._made_for, self._made = made_for, {}
        strips = [self._strip(y, left, top) for y in crop.line_range]
        if crop.column_span == (0, self.size.width):
            return strips
        return [strip.crop(*crop.column_span) for strip in strips]

    def _strip(self, y: int, left: int, top: int) -> Strip:
        """One line of the widget, made once as long as its row is the same.

        Textual would ask each for its border, padding and opacity, which took half of its time.
        """
        row = self._rows[y - top] if 0 <= y - top < len(self._rows) else EMPTY
        made = self._made.get(y)
        if made is None or made[0] is not row:
            strip, paper = self._inked(row, left), self.background_colors[1]
            for each in self.get_line_filters():
                strip = strip.apply_filter(each, paper)
            made = self._made[y] = row, strip
        return made[1]

    def _inked(self, row: Row, left: int) -> Strip:
        app, width = self.app, self.size.width
        assert isinstance(app, Appearance)
        paper = app.ink_style(Ink.PAPER)
        if not row.text.strip() and set(row.inks) <= {Ink.PAPER}:
            return Strip.blank(width, paper)
        segments = [Segment(text, app.ink_style(ink)) for text, ink in few_runs(row)]
        return Strip([Segment(" " * left, paper), *segments]).adjust_cell_length(width, paper)

    def _offset(self) -> tuple[int, int]:
        return centred(self._widest, len(self._rows), self.size)


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
