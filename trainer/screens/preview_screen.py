"""The music of today's exercises, to look through before the first round."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Static

from trainer.music.names import NoteNames, renamed
from trainer.screens.drawing.preview_pages import Page, preview_pages
from trainer.screens.widgets.cells import Cells
from trainer.screens.widgets.heading import Heading
from trainer.screens.widgets.key_line import HELP, KeyLine
from trainer.session.view import Today


class PreviewScreen(Screen[None]):
    """A page at a time, exercise after exercise; after the last page back to where one was."""

    BINDINGS = [
        Binding("pagedown,space,down", "turn(1)", "Next", id="further", tooltip="A page on"),
        Binding("up,pageup", "turn(-1)", "Up", id="up", show=False, tooltip="A page back"),
        HELP,
        Binding("escape,q,m", "app.pop_screen", "Back", id="back", tooltip="Back to practice"),
    ]

    def __init__(self, today: Today, names: NoteNames) -> None:
        super().__init__()
        self._of = len(today.lines)
        self._played = [
            (number, line)
            for number, line in enumerate(today.lines, start=1)
            if line.first_round is not None
        ]
        """Number of the exercise, the exercise."""
        self._names = names
        self._place, self._page = 0, 0
        """Which of the exercises, and which page of its music."""
        self._laid_out: dict[tuple[int, int, int], Sequence[Page]] = {}
        """The music of an exercise, for so many columns and rows."""

    def compose(self) -> ComposeResult:
        """Which exercise, its music, the keys."""
        yield Heading(id="title")
        yield Cells(id="music")
        yield KeyLine()

    def on_mount(self) -> None:
        """Show the first page before the screen is painted."""
        self._show()

    def action_turn(self, steps: int) -> None:
        """A page on or back; past the last, back to practice."""
        place, page = self._place, self._page + steps
        if not self._played or page >= len(self._pages(place)):
            place, page = place + 1, 0
        elif page < 0:
            place = max(0, place - 1)
            page = len(self._pages(place)) - 1 if place < self._place else 0
        if place >= len(self._played):
            self.app.pop_screen()
            return
        self._place, self._page = place, page
        self._show()

    def _pages(self, place: int) -> Sequence[Page]:
        size = self.query_one("#music", Cells).size
        return self._pages_for(place, *size) if size else ()

    def _pages_for(self, place: int, width: int, height: int) -> Sequence[Page]:
        """Laid out when they are wanted: a morning's music takes longer than one page may."""
        key = place, width, height
        if key not in self._laid_out:
            round_ = self._played[place][1].first_round
            assert round_ is not None
            self._laid_out[key] = preview_pages(round_, width, height)
        return self._laid_out[key]

    def _show(self) -> None:
        title, music = self.query_one("#title", Static), self.query_one("#music", Cells)
        if not self._played:
            title.update("Nothing to play is written here today.")
            return
        number, line = self._played[self._place]
        told = f"{number} of {self._of}   {line.title}   {line.detail}"
        title.update(renamed(told, self._names))
        music.draw(self._page_rows)

    def _page_rows(self, width: int, height: int) -> Page:
        """The page shown; in a larger window an exercise may have fewer."""
        pages = self._pages_for(self._place, width, height)
        self._page = min(self._page, len(pages) - 1)
        return pages[self._page]
