"""Settings: a line each in groups, changed by the arrow keys, kept at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Static

from trainer.app.settings import CHOICES, Settings, Value, words
from trainer.disk.outside_text import visible
from trainer.errors import TrainerError
from trainer.screens.choice_screen import MARK
from trainer.screens.widgets.heading import Heading
from trainer.screens.widgets.key_line import HELP, KeyLine
from trainer.screens.widgets.marked_list import QUIET, STRONG, ListLine, MarkedList

EXPLAINED = {
    "instrument": "Your flute, for routines that name no other.",
    "tuning": "The A everything is measured against.",
    "lesson": "When your lesson is: Today and the week lead towards it.",
    "microphone": "What listens to you. One that is unplugged is taken again once it is back.",
    "loudspeaker": "Where click and partner come from; headphones are a loudspeaker too.",
    "click_volume": "Beside what the routine asks for.",
    "partner_sound": "What the partner plays with: its own tone, or a SoundFont's flute.",
    "keep_takes": "Each round's sound kept on this computer, to hear it again.",
    "note_names": "What notes are called on the screen. The journal keeps letters.",
    "octaves": "How the octave of a note is said. A4 is 440 Hz in every language.",
    "characters": "What the music is drawn with; plain ones for poor fonts.",
    "colours": "Colours never say anything alone.",
    "drawing": "Music in pixels, where the terminal shows pictures, or in characters.",
    "note_size": "Large notes from 100 columns and 30 rows on, or always, or never.",
    "high_notes": "Ledger lines up to the highest note, or an octave lower under 8va.",
    "last_tuning": "Where each note stood the last time, quietly beneath today's line.",
    "spoken_lines": "Practice told in lines for a screen reader, instead of drawn.",
}
GROUPS = {
    "instrument": "Your flute",
    "lesson": "Your teacher",
    "microphone": "Sound",
    "note_names": "Words",
    "characters": "Looks",
    "spoken_lines": "For a screen reader",
}
"""The heading that stands before a setting."""
ANEW = (
    "instrument",
    "tuning",
    "microphone",
    "loudspeaker",
    "click_volume",
    "drawing",
    "spoken_lines",
    "partner_sound",
)
"""What a session can't change once it is open."""
FROM_NEXT_START = "This holds from the next start."

NOT_THERE = "not there now"

Take = Callable[[Settings], None]
"""Takes new settings on and keeps them; raises TrainerError where they can't be kept."""
Offered = Mapping[str, tuple[Value, ...]]
"""What there is to choose for a setting."""


class SettingsScreen(Screen[None]):
    """Every setting with its value; the arrow keys move and change."""

    BINDINGS = [
        Binding("pagedown,space,down", "move(1)", "Next", id="further", tooltip="Next setting"),
        Binding("up,pageup", "move(-1)", "Up", id="up", show=False, tooltip="The setting above"),
        Binding("right,plus,enter", "change(1)", "Change", id="change", tooltip="Another value"),
        Binding(
            "left,minus", "change(-1)", "Back", id="before", show=False, tooltip="Value before"
        ),
        HELP,
        Binding("escape,q,s", "leave", "Done", id="back", tooltip="Back to practice"),
    ]

    def __init__(
        self,
        settings: Settings,
        take: Take,
        leave: Callable[[], None],
        devices: Callable[[], Offered] = dict,
    ) -> None:
        """`devices` is asked in a thread of its own: it may take its time."""
        super().__init__()
        self._settings = settings
        self._take = take
        self._leave = leave
        self._ask_devices = devices
        self._devices: Offered = {}
        self._place = 0
        self._problem = ""

    def compose(self) -> ComposeResult:
        """The list in groups, what the chosen one means, the keys."""
        yield Heading("Settings", id="title")
        yield MarkedList(self._lines(), self._place, id="page")
        yield Static(self._told(), id="notice", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        """The devices come when they are known."""
        self.run_worker(self._look_for_devices, thread=True)

    def _look_for_devices(self) -> None:
        found = self._ask_devices()
        self.app.call_from_thread(self._found, found)

    def _found(self, devices: Offered) -> None:
        self._devices = devices
        if self.is_mounted:
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
        offered, now = self._offered(name), getattr(self._settings, name)
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

    def _offered(self, name: str) -> tuple[Value, ...]:
        return tuple(self._devices.get(name, CHOICES[name]))

    def _show(self) -> None:
        self.query_one(MarkedList).show(self._lines(), self._place)
        self.query_one("#notice", Static).update(self._told())

    def _told(self) -> str:
        """What went wrong, or what the marked setting means."""
        return self._problem or EXPLAINED[list(EXPLAINED)[self._place]]

    def _lines(self) -> list[ListLine]:
        """A line a setting, in groups."""
        lines: list[ListLine] = []
        for place, name in enumerate(EXPLAINED):
            group = GROUPS.get(name) or lines[-1].group
            lines.append(ListLine(self._row(name, marked=place == self._place), group))
        return lines

    def _row(self, name: str, *, marked: bool) -> Content:
        widest = max(map(len, EXPLAINED))
        value = getattr(self._settings, name)
        gone = name in self._devices and value not in self._devices[name]
        return Content.assemble(
            (f"{MARK if marked else '':2} {name.replace('_', ' '):{widest}}   ", STRONG * marked),
            (visible(words(value)), STRONG * marked),
            (f"   {NOT_THERE}" if gone else "", QUIET),
        )
