"""The week: the last seven days as text."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Footer, Static

TURN = Binding("pagedown,space", "turn", "Down", id="down", tooltip="A page further", priority=True)
"""Before the page's own PageDown, which would stay at the end for ever."""


class WeekScreen(Screen[None]):
    """Scrolls by the arrow keys and PageDown; Escape goes back."""

    BINDINGS = [
        Binding("escape,w,q", "app.pop_screen", "Back", id="back", tooltip="Back to practice"),
        TURN,
    ]

    def __init__(self, week_text: str) -> None:
        super().__init__()
        self._week_text = week_text

    def compose(self) -> ComposeResult:
        """The text in a page that scrolls."""
        with VerticalScroll(id="page"):
            yield Static(self._week_text, id="week", markup=False)
        yield Footer(show_command_palette=False)

    def action_turn(self) -> None:
        """A page further; from the end back to practice."""
        if not turned(self.query_one("#page", VerticalScroll)):
            self.app.pop_screen()


def turned(page: VerticalScroll) -> bool:
    """Turn a page further; False when it already shows its end."""
    if page.scroll_y >= page.max_scroll_y:
        return False
    page.scroll_page_down(animate=False)
    return True
