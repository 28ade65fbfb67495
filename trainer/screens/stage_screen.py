"""What every screen of a session has in common: it shows a view, and PageDown goes on."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.css.query import NoMatches
from textual.screen import Screen
from textual.widgets import Static

from trainer.app.settings import Settings
from trainer.disk.outside_text import visible
from trainer.music.names import NoteNames, renamed
from trainer.screens.appearance import Appearance
from trainer.screens.drawing.asked_words import asked_words
from trainer.screens.session_requests import Practice
from trainer.screens.widgets.heading import Heading
from trainer.screens.widgets.key_line import HELP, KeyLine
from trainer.session.view import SOUNDING, View

GO_ON = Binding("pagedown,space,enter", "advance", "Go on", id="advance", tooltip="The next thing")
GO_ON_SAID = replace(GO_ON, show=False)
"""Where the line above the keys says it."""
PAUSE_TOOLTIP = "Pause; p again goes on"
BACK_TOOLTIP = "The exercise before; in a round: pause"
GO_TO_TOOLTIP = "An exercise by its number"
OTHER_TOOLTIP = "Another routine"
TEACHER = Binding(
    "l",
    "app.play_along",
    "Teacher",
    id="play_along",
    show=False,
    tooltip="The teacher plays it first, and you answer",
)
"""Where a round stands."""


class StageScreen(Screen[None]):
    """A screen for one stage of the session."""

    BINDINGS = [
        GO_ON,
        HELP,
        Binding("q", "app.leave", "End", id="leave", tooltip="End the session; it is all kept"),
        Binding("w", "app.week", "Week", id="week", show=False, tooltip="The last seven days"),
        Binding("c", "app.click", "Click", id="click", show=False, tooltip="The click alone"),
        Binding("t", "app.tuner", "Tune", id="tuner", show=False, tooltip="Tune, or hold a note"),
        Binding("p", "pause", "Pause", id="pause", show=False, tooltip=PAUSE_TOOLTIP),
        Binding("pageup", "back", "Back", id="back", show=False, tooltip=BACK_TOOLTIP),
        Binding("g", "app.exercises", "Go to", id="exercises", show=False, tooltip=GO_TO_TOOLTIP),
        Binding("o", "app.routines", "Routine", id="routines", show=False, tooltip=OTHER_TOOLTIP),
    ]

    def __init__(self, practice: Practice) -> None:
        super().__init__()
        self.practice = practice
        self._composed = False
        self._resumed = False

    @property
    def settings(self) -> Settings:
        """What the student has set."""
        return self.app.settings if isinstance(self.app, Appearance) else Settings()

    @property
    def names(self) -> NoteNames:
        """What the student calls notes."""
        return self.settings.names

    def compose(self) -> ComposeResult:
        """A line of title, the screen's own matter, a line for notices, the keys."""
        yield Heading(id="title")
        yield from self.matter()
        yield Static(id="notice", markup=False)
        yield KeyLine()

    def matter(self) -> ComposeResult:
        """What stands between the title and the notices."""
        raise NotImplementedError

    def on_mount(self) -> None:
        """Fill the screen before it is painted for the first time."""
        self._composed = True
        self.look()

    def on_screen_resume(self, event: events.ScreenResume) -> None:
        """A new screen has its styles: Textual would work each out a second time."""
        event.refresh_styles, self._resumed = self._resumed, True

    def look(self) -> None:
        """Show what the session says now, unless the screen is coming or going."""
        if self._composed:
            with suppress(NoMatches):  # a screen that goes loses its lines one by one
                self.show(self.practice.view())

    def show(self, view: View) -> None:
        """Show a new view; called often."""
        self.write("#title", self.title_of(view))
        self.show_notice(view)

    def show_notice(self, view: View) -> None:
        """The newest notice, on as many lines as it needs."""
        self.write("#notice", view.notices[-1] if view.notices else "", layout=True)

    def title_of(self, view: View) -> str:
        """The top line."""
        return title_line(view)

    def write(self, selector: str, text: str, *, layout: bool = False) -> None:
        """Put text into a line of the screen when it has changed; a new layout only if asked."""
        line, text = self.query_one(selector, Static), visible(renamed(text, self.names))
        if getattr(line, "_written", None) != text:
            line._written = text  # type: ignore[attr-defined]
            line.update(text, layout=layout)

    def action_advance(self) -> None:
        """Go on."""
        self.practice.advance()

    def action_again(self) -> None:
        """The round once more, breaking off the one that sounds."""
        self.practice.again()

    def action_slower(self) -> None:
        """A step slower."""
        self.practice.slower()

    def action_faster(self) -> None:
        """A step faster."""
        self.practice.faster()

    def action_skip(self) -> None:
        """On to the next exercise."""
        self.practice.skip()

    def action_pause(self) -> None:
        """Stand still, or go on."""
        self.practice.pause()

    def action_back(self) -> None:
        """To the exercise before; while a round sounds only out of that."""
        if self.practice.view().stage in SOUNDING:
            self.practice.pause()
        else:
            self.practice.go_back()

    def action_rest(self) -> None:
        """Rest a minute."""
        self.practice.rest()


def title_line(view: View) -> str:
    """'3 of 11   D major, full range   slurred   at 72'."""
    parts = [f"{view.exercise_index + 1} of {len(view.today.lines)}"]
    if view.round is not None:
        parts += [view.round.title, *asked_words(view.round)]
    return "   ".join(parts)
