"""Help: every key of the screen it was asked on, in words."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Footer, Static

from trainer.screens.week_screen import TURN, turned

ON_THE_MUSIC = "On the music"
SIGNS = (
    ("◥◤", "the note now due"),
    ("━", "in tune, on the middle line; sharp lies above it, flat below"),
    ("△", "this note needs care"),
    ("▪", "on the beat"),
    ("◀ ▶", "early, late"),
    ("×", "not heard"),
    ("’", "a place to breathe"),
    ("○", "a harmonic, on a lower note's fingering"),
    ("–", "soft tongue"),
    ("h", "breath only"),
    ("T K", "front stroke, back stroke"),
    ("● ○", "fingers of a trouble spot: key pressed, key open; △ under those that move"),
)


def table(rows: Sequence[tuple[str, str]]) -> list[str]:
    """Two columns, a line each."""
    widest = max((len(left) for left, _ in rows), default=0)
    return [f"{left:{widest}}  {right}" for left, right in rows]


class HelpScreen(ModalScreen[None]):
    """A list of keys over the screen."""

    BINDINGS = [
        Binding("escape,question_mark,q", "dismiss", "Back", id="back", tooltip="Back"),
        TURN,
    ]

    def __init__(self, keys: list[tuple[str, str]]) -> None:
        super().__init__()
        self._keys = keys

    def compose(self) -> ComposeResult:
        """One line a key."""
        text = "\n".join(["Keys", "", *table(self._keys), "", ON_THE_MUSIC, *table(SIGNS)])
        with VerticalScroll(id="page"):
            yield Static(text, id="keys", markup=False)
        yield Footer(show_command_palette=False)

    def action_turn(self) -> None:
        """A page further; from the end back to practice."""
        if not turned(self.query_one("#page", VerticalScroll)):
            self.dismiss()
