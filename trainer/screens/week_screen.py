"""The week: the last seven days as text, a page at a time."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Static

from trainer.screens.then_and_now_screen import THEN_AND_NOW
from trainer.screens.widgets.heading import Heading
from trainer.screens.widgets.key_line import KeyLine
from trainer.screens.widgets.marked_list import STRONG

PAGE_BREAK = "\f"
"""Between two pages of a text."""
TURN = Binding(
    "pagedown,space",
    "turn",
    "Next",
    id="down",
    key_display="PageDown",
    tooltip="The next page",
    priority=True,
)
"""Before the page's own PageDown, which would stay at the end for ever."""


class WeekScreen(Screen[None]):
    """One key turns the pages and leads back from the last; Escape goes back at once."""

    BINDINGS = [
        Binding("escape,w,q", "app.pop_screen", "Back", id="back", tooltip="Back to practice"),
        THEN_AND_NOW,
        TURN,
    ]

    def __init__(self, pages: Sequence[str]) -> None:
        super().__init__()
        self._pages = tuple(pages)
        self._place = 0

    def compose(self) -> ComposeResult:
        """One page, which scrolls only where the window is smaller than a page."""
        yield Heading(id="title")
        with VerticalScroll(id="page"):
            yield Static(self._page(), id="week", markup=False)
        yield KeyLine()

    def _page(self) -> Content:
        if len(self._pages) < 2:
            return headed("".join(self._pages))
        first, *others = self._pages[self._place].split("\n")
        return headed("\n".join((f"{first}   {self._place + 1} of {len(self._pages)}", *others)))

    def action_turn(self) -> None:
        """A page further; from the end back to practice."""
        page = self.query_one("#page", VerticalScroll)
        if turned(page):
            return
        self._place += 1
        if self._place >= len(self._pages):
            self.app.pop_screen()
            return
        self.query_one("#week", Static).update(self._page())
        page.scroll_home(animate=False)


def headed(text: str) -> Content:
    """A text whose headings, lines that indented ones follow, are strong."""
    lines = text.split("\n")
    return Content("\n").join(
        Content.styled(line, STRONG if not line.startswith(" ") and after.startswith(" ") else "")
        for line, after in zip(lines, [*lines[1:], ""], strict=True)
    )


def turned(page: VerticalScroll) -> bool:
    """Turn a page further; False when it already shows its end, or a window too low shows none."""
    if page.scroll_y >= page.max_scroll_y or not page.size.height:
        return False
    page.scroll_page_down(animate=False)
    return True
