"""A list to choose from, by its numbers or with the arrow keys."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Static

from trainer.disk.outside_text import visible
from trainer.screens.widgets.heading import Heading
from trainer.screens.widgets.key_line import HELP, KeyLine
from trainer.screens.widgets.marked_list import QUIET, STRONG, ListLine, MarkedList

MARK = "->"


@dataclass(frozen=True)
class Choice:
    """One line of the list."""

    words: str
    beside: str = ""
    """Said quietly behind it."""
    group: str = ""
    """Lines of one group stand together under its name."""
    told: str = ""
    """Told at the foot while it is marked."""


class ChoiceScreen(Screen[None]):
    """The list; what is chosen is handed on, and the screen stays where it is refused."""

    BINDINGS = [
        Binding("down,pagedown,space", "move(1)", "Below", id="down", tooltip="A line down"),
        Binding("up,pageup", "move(-1)", "Up", id="up", show=False, tooltip="A line up"),
        Binding("enter,right", "take", "Go there", id="take", tooltip="Take the marked line"),
        HELP,
        Binding("escape,q,g,o", "app.pop_screen", "Back", id="back", tooltip="Back to practice"),
    ]

    def __init__(
        self, title: str, choices: Sequence[Choice], marked: int, take: Callable[[int], str]
    ) -> None:
        """`take` is given the place chosen and leaves the screen, or says why it doesn't."""
        super().__init__()
        self._title = title
        self._choices = tuple(choices)
        self._place = marked
        self._digits = ""
        self._take = take

    def compose(self) -> ComposeResult:
        """The list, what the marked line is about, the keys."""
        yield Heading(self._title, id="title")
        yield MarkedList(self._lines(), self._place, id="page")
        yield Static(self._told(), id="notice", markup=False)
        yield KeyLine()

    def on_key(self, event: events.Key) -> None:
        """A number goes to its line as soon as no longer one can be meant."""
        if event.character is None or event.character not in "0123456789":
            return
        typed = self._digits + event.character
        if not 1 <= int(typed) <= len(self._choices):
            typed = event.character
        if not 1 <= int(typed) <= len(self._choices):
            return
        self._digits = typed
        self._mark(int(typed) - 1)
        if 10 * int(typed) > len(self._choices):
            self.action_take()

    def action_move(self, steps: int) -> None:
        """To another line; past the last, back to practice."""
        self._digits = ""
        if self._place + steps >= len(self._choices):
            self.app.pop_screen()
            return
        self._mark(max(0, self._place + steps))

    def action_take(self) -> None:
        """Take the marked line."""
        self._digits = ""
        complaint = self._take(self._place)
        if complaint:
            self.query_one("#notice", Static).update(visible(complaint))

    def _mark(self, place: int) -> None:
        self._place = place
        self.query_one(MarkedList).show(self._lines(), place)
        self.query_one("#notice", Static).update(self._told())

    def _told(self) -> str:
        return visible(self._choices[self._place].told)

    def _lines(self) -> list[ListLine]:
        return [ListLine(self._row(n), each.group) for n, each in enumerate(self._choices)]

    def _row(self, place: int) -> Content:
        choice, marked = self._choices[place], place == self._place
        widest = max(len(each.words) for each in self._choices)
        start = f"{MARK if marked else '':2} {place + 1:2}  {choice.words:{widest}}   "
        return Content.assemble(
            (visible(start), STRONG if marked else ""),
            (visible(choice.beside), "" if marked else QUIET),
        )
