"""The music of today's exercises, to look through before the first round."""

from __future__ import annotations

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Static

from trainer.music.names import NoteNames, renamed
from trainer.screens.drawing.preview_pages import Page, preview_pages
from trainer.screens.widgets.cells import Cells
from trainer.screens.widgets.heading import Heading
from trainer.screens.widgets.key_line import HELP, KeyLine
from trainer.session.view import TimetableLine, Today


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
        self._lines = today.lines
        self._names = names
        self._place = 0
        self._pages: list[tuple[int, TimetableLine, Page]] = []
        """Number of the exercise, the exercise, its music."""

    def compose(self) -> ComposeResult:
        """Which exercise, its music, the keys."""
        yield Heading(id="title")
        yield Cells(id="music")
        yield KeyLine()

    def on_resize(self, _event: events.Resize) -> None:
        """Lay everything out anew, and stay with the exercise."""
        self.call_after_refresh(self._lay_out)

    def action_turn(self, steps: int) -> None:
        """A page on or back; past the last, back to practice."""
        self._place = max(0, self._place + steps)
        if self._place >= len(self._pages):
            self.app.pop_screen()
        else:
            self._show()

    def _lay_out(self) -> None:
        width, height = self.query_one("#music", Cells).size
        if width < 1 or height < 1:
            return
        shown = self._pages[self._place][0] if self._pages else 0
        self._pages = [
            (number, line, page)
            for number, line in enumerate(self._lines, start=1)
            if line.first_round is not None
            for page in preview_pages(line.first_round, width, height)
        ]
        numbers = [number for number, _, _ in self._pages]
        self._place = numbers.index(shown) if shown in numbers else 0
        self._show()

    def _show(self) -> None:
        title, music = self.query_one("#title", Static), self.query_one("#music", Cells)
        if not self._pages:
            title.update("Nothing to play is written here today.")
            return
        number, line, page = self._pages[self._place]
        told = f"{number} of {len(self._lines)}   {line.title}   {line.detail}"
        title.update(renamed(told, self._names))
        music.show(page)
