"""Asked before a round that sounds is broken off for good."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import ModalScreen
from textual.widgets import Static

ASKED = """End the session?

The rounds played are kept, this one is not.

q ends   PageDown plays on"""


class LeaveScreen(ModalScreen[bool]):
    """Ends with True when the student is sure."""

    BINDINGS = [
        Binding("q", "dismiss(True)", "End", id="sure", tooltip="End the session; it is all kept"),
        Binding("pagedown,space,enter,escape", "dismiss(False)", "Play on", id="play-on"),
    ]

    def compose(self) -> ComposeResult:
        """The question, with its two answers."""
        yield Static(ASKED, id="asked", markup=False)
