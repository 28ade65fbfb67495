"""The trouble spots, each with its story, its fingers and its notes, to pick one for practice."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Static

from trainer.app.spots_told import EMPTY, HEALED, story
from trainer.music.instrument import Instrument
from trainer.music.names import NoteNames, named
from trainer.screens.drawing.fingerings import fingering_lines
from trainer.screens.drawing.line_of_notes import notes_rows
from trainer.screens.session_requests import Practice
from trainer.screens.told_since import ToldSince
from trainer.screens.widgets.cells import Cells
from trainer.screens.widgets.heading import Heading
from trainer.screens.widgets.key_line import HELP, KeyLine
from trainer.session.view import ShelvedSpot

LOOKS_PER_S = 4
"""What the session tells meanwhile, as that the device is gone, is shown so soon."""
CHOSEN, OTHER = "▸ ", "  "


class ShelfScreen(Screen[None]):
    """A list above, the chosen spot's notes and fingers beneath."""

    BINDINGS = [
        Binding("up", "move(-1)", "Above", id="up", tooltip="The spot above"),
        Binding("down", "move(1)", "Below", id="down", tooltip="The spot below"),
        Binding("pagedown,space,enter", "pick", "Practise it", id="pick", tooltip="This one now"),
        HELP,
        Binding("escape,q,k", "app.pop_screen", "Back", id="back", tooltip="Back to Today"),
    ]

    def __init__(
        self,
        practice: Practice,
        spots: Sequence[ShelvedSpot],
        instrument: Instrument,
        names: NoteNames,
        pick: Callable[[ShelvedSpot], None],
    ) -> None:
        """`pick` is given the spot the student wants to practise."""
        super().__init__()
        self._practice = practice
        self._told = ToldSince(practice.view().notices)
        self._spots = tuple(spots)
        self._instrument = instrument
        self._names = names
        self._pick = pick
        self._place = 0

    def compose(self) -> ComposeResult:
        """The list, the notes, the fingers, the keys."""
        yield Heading("Trouble spots", id="title")
        with VerticalScroll(id="page", can_focus=False):
            yield Static(id="spots", markup=False)
        yield Cells(id="notes")
        yield Static(id="fingers", markup=False)
        yield Static(id="notice", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        """Show it, and what is told from now on."""
        self._show()
        self.set_interval(1 / LOOKS_PER_S, self.look)

    def on_resize(self) -> None:
        """Keep the chosen one in sight."""
        self._show()

    def action_move(self, steps: int) -> None:
        """Choose the spot above or below."""
        self._place = max(0, min(len(self._spots) - 1, self._place + steps))
        self._show()

    def action_pick(self) -> None:
        """Practise the chosen one; from an empty shelf back to Today."""
        if self._spots:
            self._pick(self._spots[self._place])
        else:
            self.app.pop_screen()

    def look(self) -> None:
        """Show what was told since the shelf was opened."""
        notice = self.query_one("#notice", Static)
        told = self._told.newest(self._practice.view().notices)
        if told and notice.content != told:
            notice.update(told)

    def _show(self) -> None:
        listed = self.query_one("#spots", Static)
        if not self._spots:
            listed.update(EMPTY)
            return
        lines = list(self._lines())
        listed.update("\n".join(lines))
        row = next(row for row, line in enumerate(lines) if line.startswith(CHOSEN))
        page = self.query_one("#page", VerticalScroll)
        page.scroll_to(y=max(0, row - page.size.height // 2), animate=False)
        pitches = self._spots[self._place].pitches
        self.query_one("#notes", Cells).draw(partial(notes_rows, pitches))
        fingers = fingering_lines(pitches, self._instrument, self._names)
        self.query_one("#fingers", Static).update("\n".join(fingers))

    def _lines(self) -> list[str]:
        """A line a spot, the healed ones beneath a heading of their own."""
        names = ["–".join(named(p, self._names) for p in spot.pitches) for spot in self._spots]
        widest = max(map(len, names))
        lines: list[str] = []
        for place, (name, spot) in enumerate(zip(names, self._spots, strict=True)):
            if spot.healed and (place == 0 or not self._spots[place - 1].healed):
                lines += [*([""] if lines else []), HEALED]
            mark = CHOSEN if place == self._place else OTHER
            lines.append(f"{mark}{name:{widest}}   {story(spot)}")
        return lines
