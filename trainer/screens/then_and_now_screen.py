"""Then and now: two takes of the same, heard one after the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from textwrap import wrap

from textual.binding import Binding

from trainer.screens.beside_screen import AIR, INDENT, OPENING, BesideScreen, page_rows
from trainer.screens.drawing.canvas import Ink, Row
from trainer.screens.session_requests import Practice
from trainer.screens.widgets.key_line import HELP_UNSEEN
from trainer.session.view import SideBySideView

TITLE = "Then and now"
HEAR_LATER = "A round sounds: what was kept can be heard when it is over."
THEN_AND_NOW = Binding(
    "k",
    "app.then_and_now",
    TITLE,
    id="then_and_now",
    tooltip="A round of this week, and an old take of the same",
)
"""From where the week is read."""
VOLUME = (
    "Turn the volume down first, most of all with headphones: you can turn it up while it plays."
)
ASKED = "PageDown: both, one after the other   1 then   2 now   Escape back"
SOUNDS, WAITS = "▶", "·"


@dataclass(frozen=True)
class TwoTakes:
    """What is set side by side, as it is said."""

    title: str
    names: Sequence[str]
    """When each was played, and how fast."""
    files: Sequence[Path]
    changed: str
    """What changed between them, a sentence."""


class ThenAndNowScreen(BesideScreen):
    """Which two they are, which of them sounds, and what the figures say of the change."""

    BINDINGS = [
        Binding("pagedown,space,enter", "both", "Hear both", id="both", tooltip="Then, and now"),
        Binding("1", "one(0)", "Then", id="then", tooltip="The old one"),
        Binding("2", "one(1)", "Now", id="now", tooltip="The new one"),
        HELP_UNSEEN,
        Binding("escape,q,k", "leave", "Back", id="back", tooltip="Back to practice"),
    ]

    def __init__(self, practice: Practice, takes: TwoTakes) -> None:
        super().__init__(practice)
        self._takes = takes

    def use(self, *, wanted: bool) -> None:
        """Have both at hand, or go back."""
        self.practice.set_side_by_side(self._takes.files if wanted else ())

    def look(self) -> None:
        """Show which of them sounds."""
        view = self.practice.view().side_by_side
        self.write("#title", TITLE)
        self.write("#prompt", OPENING if view is None else ASKED)
        self.write("#notice", self.told())
        if view is not None:
            self.draw(partial(two_rows, self._takes, view))

    def action_both(self) -> None:
        """The old one, and then the new one."""
        self.practice.play_side_by_side((0, 1))

    def action_one(self, place: int) -> None:
        """One of them."""
        self.practice.play_side_by_side((place,))


def two_rows(takes: TwoTakes, view: SideBySideView, width: int, height: int) -> tuple[Row, ...]:
    """The title, a line for each take, what changed, and the caution."""
    lines = [AIR, (takes.title, Ink.WORDS), AIR]
    for place, (name, seconds) in enumerate(zip(takes.names, view.seconds, strict=True)):
        sounds = view.sounding == place
        line = f"{SOUNDS if sounds else WAITS} {place + 1}  {name}   {seconds:.0f} seconds"
        lines.append((line, Ink.WORDS if sounds else Ink.QUIET))
    lines += [AIR, (takes.changed, Ink.WORDS), AIR]
    lines += [(line, Ink.QUIET) for line in wrap(VOLUME, width - 2 * INDENT)]
    return page_rows(lines, width, height)
