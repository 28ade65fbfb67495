"""What the screens beside the routine have in common: they lie over a session that waits."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Static

from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.session_requests import Practice
from trainer.screens.told_since import ToldSince
from trainer.screens.widgets.cells import Cells, Drawing
from trainer.screens.widgets.heading import Heading
from trainer.screens.widgets.key_line import KeyLine

INDENT = 2
"""Columns before the words of a page."""
AIR = ("", Ink.QUIET)
"""An empty line of a page."""
OPENING = "One moment: the sound is being opened."
LARGE = Binding("v", "large", "Large", id="large", tooltip="Only one thing, to be read from afar")
"""Of the screens that have one thing to read."""


class BesideScreen(Screen[None]):
    """A heading, a drawing, what is asked or said, the keys; looked at many times a second."""

    LOOKS_PER_S = 20
    """Quick enough for a hand on the headjoint."""

    def __init__(self, practice: Practice) -> None:
        super().__init__()
        self.practice = practice
        self.large = False
        """Only its one thing is shown, as large as the window."""
        self._told = ToldSince(practice.view().notices)
        self._words = ""

    def compose(self) -> ComposeResult:
        """The heading, the drawing, the words beneath, the keys. The session is asked first: it has
        mostly answered when they stand."""
        self.use(wanted=True)
        yield Heading(id="title")
        yield Cells(id="music")
        yield from self.lines()
        yield KeyLine()

    def lines(self) -> ComposeResult:
        """The words beneath the drawing."""
        yield Static(id="prompt", markup=False)
        yield Static(id="notice", markup=False)

    def told(self, words: str = "") -> str:
        """What the session has told since these words were others, as that the device is gone;
        else the words."""
        notices = self.practice.view().notices
        if words != self._words:
            self._words = words
            self._told.begin(notices)
        return self._told.newest(notices) or words

    def on_mount(self) -> None:
        """Show it before the first paint, and from now on."""
        self.look()
        self.set_interval(1 / self.LOOKS_PER_S, self.look)

    def use(self, *, wanted: bool) -> None:
        """Ask the session for it, or go back to where the session stands."""
        raise NotImplementedError

    def look(self) -> None:
        """Show how it stands now."""
        raise NotImplementedError

    def write(self, selector: str, text: str) -> None:
        """Put text into a line when it has changed."""
        line = self.query_one(selector, Static)
        if str(line.content) != text:
            line.update(text)

    def draw(self, drawing: Drawing) -> None:
        """Show what this draws."""
        self.query_one("#music", Cells).draw(drawing)

    def action_large(self) -> None:
        """Only the one thing, as large as the window; or everything again."""
        self.large = not self.large
        self.set_class(self.large, "large")
        self.look()

    def action_leave(self) -> None:
        """Back to where the session stands."""
        self.use(wanted=False)
        self.app.pop_screen()


def page_rows(lines: Sequence[tuple[str, Ink]], width: int, height: int) -> tuple[Row, ...]:
    """A page of words with its air; in a low window the words come before the air."""
    if len(lines) > height:
        lines = [(words, ink) for words, ink in lines if words]
    canvas = Canvas(width, height)
    for row, (words, ink) in enumerate(lines):
        canvas.put(INDENT, row, words, ink)
    return canvas.rows()
