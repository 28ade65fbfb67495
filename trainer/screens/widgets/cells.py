"""A widget that shows drawn rows and repaints only what has changed."""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from trainer.screens.drawing.canvas import Ink, Row


class Cells(Widget):
    """Rows of inked cells, centred in the widget; never asks for a new layout."""

    COMPONENT_CLASSES = {f"cells--{ink.value}" for ink in Ink}

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._rows: tuple[Row, ...] = ()
        self._styles: dict[Ink, Style] = {}

    def show(self, rows: tuple[Row, ...]) -> None:
        """Show these rows instead of the last ones."""
        before, self._rows = self._rows, rows
        if len(before) != len(rows):
            self.refresh()
            return
        left, top = self._offset(rows)
        for y, (old, new) in enumerate(zip(before, rows, strict=True)):
            if old != new:
                start, end = _changed(old, new)
                self.refresh(Region(left + start, top + y, end - start, 1))

    def offset_of(self, height: int) -> tuple[int, int]:
        """Where rows as wide as now and so many begin inside the widget."""
        left, _ = self._offset(self._rows)
        return left, max(0, (self.size.height - height) // 2)

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
        left, top = self._offset(self._rows)
        blank = self._style(Ink.PAPER)
        if not 0 <= y - top < len(self._rows):
            return Strip.blank(width, blank)
        row = self._rows[y - top]
        segments = [Segment(text, self._style(ink)) for text, ink in row.runs()]
        return Strip([Segment(" " * left, blank), *segments]).adjust_cell_length(width, blank)

    def _offset(self, rows: tuple[Row, ...]) -> tuple[int, int]:
        widest = max((len(row.text) for row in rows), default=0)
        return max(0, (self.size.width - widest) // 2), max(0, (self.size.height - len(rows)) // 2)

    def _style(self, ink: Ink) -> Style:
        if ink not in self._styles:
            self._styles[ink] = self.get_component_rich_style(f"cells--{ink.value}")
        return self._styles[ink]


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
