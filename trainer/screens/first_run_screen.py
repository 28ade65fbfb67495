"""The first morning on the screen: a question at a time, PageDown for each."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

from textual.app import ComposeResult
from textual.binding import Binding
from textual.css.query import NoMatches
from textual.screen import Screen
from textual.widgets import Static

from trainer.app.first_run import FirstMorning, FirstMorningView
from trainer.screens.appearance import Appearance
from trainer.screens.drawing.meter import meter_rows
from trainer.screens.help_screen import HelpScreen
from trainer.screens.key_names import wishes_of
from trainer.screens.stage_screen import GO_ON_SAID
from trainer.screens.widgets.key_line import HELP, KeyLine

TAKEN = "Down and Up choose   PageDown takes it and goes on"
GONE_ON = "PageDown goes on"
MEASURED = "PageDown measures it   n skips this"
LEFT = "n skips this"
LOOKS_PER_S = 10
"""A question changes slowly."""


class FirstMorningScreen(Screen[None]):
    """One question, its answers, and the level while the microphone is checked."""

    BINDINGS = [
        GO_ON_SAID,
        Binding("up", "choose(-1)", "Up", id="up", show=False, tooltip="The answer above"),
        Binding("down", "choose(1)", "Below", id="down", show=False, tooltip="The answer below"),
        Binding("n", "skip", "Leave it", id="skip", show=False, tooltip="Leave this as it is"),
        HELP,
        Binding("q", "app.leave", "End", id="leave", tooltip="Leave; nothing is written down"),
    ]

    def __init__(self, morning: FirstMorning) -> None:
        super().__init__()
        self._morning = morning
        self._composed = False

    def compose(self) -> ComposeResult:
        """Title, question, answers."""
        yield Static(id="title", markup=False)
        yield Static(id="sentence", markup=False)
        yield Static(id="answers", markup=False)
        yield Static(id="prompt", markup=False)
        yield KeyLine()

    def look(self) -> None:
        """Show where the newcomer stands, unless the screen is coming or going."""
        if self._composed:
            with suppress(NoMatches):  # a screen that goes loses its lines one by one
                self._show()

    def _show(self) -> None:
        view = self._morning.view()
        title = f"Welcome   {view.number} of {view.of}"
        lines = {"#title": title, "#sentence": view.words, "#answers": answers(view)}
        lines["#prompt"] = prompt(view)
        for selector, text in lines.items():
            line = self.query_one(selector, Static)
            if str(line.content) != text:
                line.update(text)

    def on_mount(self) -> None:
        """Show the first question at once."""
        self._composed = True
        self.look()

    def action_advance(self) -> None:
        """Take the answer and go on."""
        self._morning.advance()
        self._moved()

    def action_skip(self) -> None:
        """Leave this step as it is."""
        self._morning.skip()
        self._moved()

    def action_choose(self, steps: int) -> None:
        """Move the choice."""
        self._morning.choose(steps)
        self.look()

    def _moved(self) -> None:
        if self._morning.view().number == self._morning.view().of:
            self.app.exit(True)
        else:
            self.look()


def prompt(view: FirstMorningView) -> str:
    """What to press now."""
    if view.choices:
        return TAKEN
    if view.measures:
        return MEASURED
    return GONE_ON if view.waits else LEFT


def answers(view: FirstMorningView) -> str:
    """The answers with the chosen one marked, or the level."""
    if view.level_db is not None:
        return "\n".join(meter_rows(view.level_db, view.zone_db, view.seconds_left))
    return "\n".join(
        f"{'->' if place == view.chosen else '  '} {choice}"
        for place, choice in enumerate(view.choices)
    )


class FirstMorningApp(Appearance):
    """Ends with True when all was asked, with None when the newcomer left."""

    CSS_PATH = "trainer.tcss"
    TITLE = "trainer"

    def __init__(self, morning: FirstMorning, painted: Callable[[], None] = lambda: None) -> None:
        """`painted` is called once the first question is on the screen."""
        super().__init__()
        self._morning = morning
        self._painted = painted
        self.dress(morning.settings)

    def on_mount(self) -> None:
        """Open the screen, and look ten times a second."""
        self.push_screen(FirstMorningScreen(self._morning))
        self.call_after_refresh(self._painted)
        self.set_interval(1 / LOOKS_PER_S, self.look)

    def look(self) -> None:
        """Let time pass in the flow, and show it."""
        if self.leaving:
            self.exit()
            return
        self._morning.tick()
        if self.screen_stack and isinstance(self.screen, FirstMorningScreen):
            self.screen.look()

    def action_help(self) -> None:
        """Every key."""
        self.push_screen(HelpScreen(wishes_of(self.screen)))

    def action_leave(self) -> None:
        """Leave without an answer."""
        self.exit()
