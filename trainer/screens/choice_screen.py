"""A list to choose from, by its numbers or with the arrow keys."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Footer, Static

from trainer.disk.outside_text import visible
from trainer.screens.widgets.heading import Heading

MARK = "->"
QUIET, STRONG = "$foreground-muted", "bold"
"""Styles of a part of a line: `$text-muted` has no colour of its own there."""


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
        Binding("down,pagedown,space", "move(1)", "Down", id="down", tooltip="A line down"),
        Binding("up,pageup", "move(-1)", "Up", id="up", show=False, tooltip="A line up"),
        Binding("enter,right", "take", "Go there", id="take", tooltip="Take the marked line"),
        Binding("question_mark,f1", "app.help", "Help", id="help", tooltip="All keys"),
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
        with VerticalScroll(id="page", can_focus=False):
            for group, rows in _grouped(self._choices):
                if group:
                    yield Static(group, classes="group", markup=False)
                for place in rows:
                    yield Static(self._row(place), id=f"choice-{place}", classes="choice")
        yield Static(id="notice", markup=False)
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        """Mark the line where it begins."""
        self.call_after_refresh(self._mark, self._place)

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
        before, self._place = self._place, place
        for one in {before, place}:
            self.query_one(f"#choice-{one}", Static).update(self._row(one))
        self.query_one(f"#choice-{place}").scroll_visible(animate=False)
        self.query_one("#notice", Static).update(visible(self._choices[place].told))

    def _row(self, place: int) -> Content:
        choice, marked = self._choices[place], place == self._place
        widest = max(len(each.words) for each in self._choices)
        start = f"{MARK if marked else '':2} {place + 1:2}  {choice.words:{widest}}   "
        return Content.assemble(
            (visible(start), STRONG if marked else ""),
            (visible(choice.beside), "" if marked else QUIET),
        )


def _grouped(choices: Sequence[Choice]) -> Iterator[tuple[str, list[int]]]:
    """Each group's name with the places of its lines, in order."""
    groups: dict[str, list[int]] = {}
    for place, choice in enumerate(choices):
        groups.setdefault(choice.group, []).append(place)
    yield from groups.items()
