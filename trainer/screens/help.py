"""Help: every key of the screen it was asked on, in words."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Footer, Static

from trainer.screens.week import turned


class HelpScreen(ModalScreen[None]):
    """A list of keys over the screen."""

    BINDINGS = [
        Binding("escape,question_mark,q", "dismiss", "Back", id="back", tooltip="Back"),
        Binding("pagedown,space", "turn", "Down", id="down", tooltip="A page further"),
    ]

    def __init__(self, keys: list[tuple[str, str]]) -> None:
        super().__init__()
        self._keys = keys

    def compose(self) -> ComposeResult:
        """One line a key."""
        widest = max((len(key) for key, _ in self._keys), default=0)
        lines = [f"{key:{widest}}  {what}" for key, what in self._keys]
        with VerticalScroll(id="page"):
            yield Static("\n".join(["Keys", "", *lines, "", SIGNS]), id="keys", markup=False)
        yield Footer(show_command_palette=False)

    def action_turn(self) -> None:
        """A page further; from the end back to practice."""
        if not turned(self.query_one("#page", VerticalScroll)):
            self.dismiss()


SIGNS = """\
On the music
◥◤  the note now due
━   in tune, on the middle line; sharp lies above it, flat below
△   this note needs care
▪   on the beat    ◀ early    ▶ late    × not heard
’   a place to breathe    –  soft tongue    h  breath only    K  back stroke"""
