"""Settings: a line each, changed by the arrow keys, kept at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Footer, Static

from trainer.app.settings import CHOICES, Settings, words
from trainer.errors import TrainerError

EXPLAINED = {
    "instrument": "Your flute, for routines that name no other.",
    "tuning": "The A everything is measured against.",
    "note_names": "What notes are called on the screen. The journal keeps letters.",
    "octaves": "How the octave of a note is said. A4 is 440 Hz in every language.",
    "characters": "What the music is drawn with; plain ones for poor fonts.",
    "colours": "Colours never say anything alone.",
    "drawing": "Music in pixels, where the terminal shows pictures, or in characters.",
    "note_size": "Large notes from 100 columns and 30 rows on, or always, or never.",
    "high_notes": "Ledger lines up to the highest note, or an octave lower under 8va.",
    "spoken_lines": "Practice told in lines for a screen reader, instead of drawn.",
    "keep_takes": "Each round's sound kept on this computer, to hear it again.",
    "partner_sound": "What the partner plays with: its own tone, or a SoundFont's flute.",
}
ANEW = ("instrument", "tuning", "drawing", "spoken_lines", "partner_sound")
"""What a session can't change once it is open."""
FROM_NEXT_START = "This holds from the next start."

Take = Callable[[Settings], None]
"""Takes new settings on and keeps them; raises TrainerError where they can't be kept."""


class SettingsScreen(Screen[None]):
    """Every setting with its value; the arrow keys move and change."""

    BINDINGS = [
        Binding("pagedown,space,down", "move(1)", "Further", id="further", tooltip="Next setting"),
        Binding("up,pageup", "move(-1)", "Up", id="up", show=False, tooltip="The setting above"),
        Binding("right,plus,enter", "change(1)", "Change", id="change", tooltip="Another value"),
        Binding(
            "left,minus", "change(-1)", "Back", id="before", show=False, tooltip="Value before"
        ),
        Binding("question_mark,f1", "app.help", "Help", id="help", tooltip="All keys"),
        Binding("escape,q,s", "leave", "Done", id="back", tooltip="Back to practice"),
    ]

    def __init__(self, settings: Settings, take: Take, leave: Callable[[], None]) -> None:
        super().__init__()
        self._settings = settings
        self._take = take
        self._leave = leave
        self._place = 0
        self._problem = ""

    def compose(self) -> ComposeResult:
        """The list, what the chosen one means, the keys."""
        yield Static("Settings", id="title", markup=False)
        with VerticalScroll(id="page", can_focus=False):
            yield Static(id="settings", markup=False)
        yield Static(id="notice", markup=False)
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        """Show the values at once."""
        self._show()

    def action_move(self, steps: int) -> None:
        """To another setting; past the last, back to practice."""
        self._place += steps
        if self._place >= len(EXPLAINED):
            self.action_leave()
            return
        self._place = max(0, self._place)
        self._show()

    def action_change(self, steps: int) -> None:
        """The next value, or the one before."""
        name = list(EXPLAINED)[self._place]
        offered, now = CHOICES[name], getattr(self._settings, name)
        place = offered.index(now) + steps if now in offered else 0
        changed = {name: offered[place % len(offered)]}
        self._settings = replace(self._settings, **changed)  # type: ignore[arg-type]
        try:
            self._take(self._settings)
            self._problem = ""
        except TrainerError as error:
            self._problem = f"Not kept: {error}"
        self._show()

    def action_leave(self) -> None:
        """Back to practice."""
        self._leave()

    def _show(self) -> None:
        self.query_one("#settings", Static).update(settings_text(self._settings, self._place))
        name = list(EXPLAINED)[self._place]
        self.query_one("#notice", Static).update(self._problem or EXPLAINED[name])


def settings_text(settings: Settings, place: int) -> str:
    """A line each, the chosen one marked."""
    widest = max(map(len, EXPLAINED))
    return "\n".join(
        f"{'->' if row == place else '  '} {name.replace('_', ' '):{widest}}  "
        f"{words(getattr(settings, name))}"
        for row, name in enumerate(EXPLAINED)
    )
