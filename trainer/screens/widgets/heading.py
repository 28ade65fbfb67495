"""The top line of a screen, with who plays at its right end where that isn't the student."""

from __future__ import annotations

from typing import Any

from rich.cells import cell_len, set_cell_size
from textual.visual import VisualType
from textual.widgets import Static

from trainer.screens.widgets.still import Still

GAP = 2
"""Columns between the two."""


class Heading(Still, Static):
    """One line; what is said at its right end is never cut for what stands on its left."""

    def __init__(self, words: str = "", *, id: str | None = None) -> None:
        super().__init__(words, id=id, markup=False)

    def update(self, content: VisualType = "", *, layout: bool = False) -> None:
        """Say something else: it stays one line."""
        super().update(content, layout=layout)
        self.repaint()

    def render(self) -> Any:
        """The words, and the announcement of the app."""
        announced = getattr(self.app, "announcement", "")
        if not announced:
            return super().render()
        room = self.content_size.width - cell_len(announced)
        return set_cell_size(str(self.content), max(0, room - GAP)).ljust(room) + announced
