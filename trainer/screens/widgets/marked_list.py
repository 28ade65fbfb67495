"""A list of lines in groups, one of them marked and always in sight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.geometry import Region
from textual.widgets import Static

QUIET, STRONG = "$foreground-muted", "bold"
"""Styles of a part of a line: `$text-muted` has no colour of its own there."""


@dataclass(frozen=True)
class ListLine:
    """A line to choose."""

    content: Content
    group: str = ""
    """Stands above the first of its lines."""


class MarkedList(VerticalScroll, can_focus=False):
    """All lines are one text: a widget a line would cost the page its first frame."""

    DEFAULT_CSS = """
    MarkedList > Static {
        width: 1fr;
        height: auto;
        text-wrap: nowrap;
        text-overflow: ellipsis;
    }
    """

    def __init__(self, lines: Sequence[ListLine], marked: int, *, id: str) -> None:
        super().__init__(id=id)
        self._rows, self._places = _written(lines)
        self._marked = marked

    def compose(self) -> ComposeResult:
        """The text."""
        yield Static(Content("\n").join(self._rows))

    def on_resize(self) -> None:
        """Keep the marked line in sight."""
        self._scroll()

    def show(self, lines: Sequence[ListLine], marked: int) -> None:
        """Show these lines instead, with another one marked."""
        before = len(self._rows)
        self._rows, self._places = _written(lines)
        self._marked = marked
        text = self.query_one(Static)
        text.update(Content("\n").join(self._rows), layout=len(self._rows) != before)
        self._scroll()

    def _scroll(self) -> None:
        """To the marked line; with the first one to what stands above it too."""
        row = self._places[self._marked] if self._marked else 0
        last = self._places[self._marked]
        self.scroll_to_region(Region(0, row, 1, last - row + 1), animate=False, force=True)


def _written(lines: Sequence[ListLine]) -> tuple[list[Content], list[int]]:
    """The rows with their groups' names, and the row of each line."""
    rows: list[Content] = []
    places: list[int] = []
    group = ""
    for line in lines:
        if line.group != group:
            rows += [Content(""), Content.styled(line.group, QUIET)] if line.group else []
            group = line.group
        places.append(len(rows))
        rows.append(line.content)
    return rows, places
