"""The tuner: any note at any time beside the routine, a drone to play above, somebody else's A."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Input

from trainer.app.room_tunings import LONGEST_NAME, MOST_ROOMS, RoomTuning
from trainer.music.names import NoteNames, renamed
from trainer.music.pitch import OCTAVE, Pitch, usual_pitch
from trainer.screens.beside_screen import LARGE, OPENING, BesideScreen
from trainer.screens.drawing.tuner_face import note_rows, tuner_rows
from trainer.screens.session_requests import Practice
from trainer.screens.widgets.key_line import HELP
from trainer.session.view import DroneAbove, TunerView

A4 = Pitch("A", 0, 4)
TITLE = "Tuner"
PLAY = "Play any note."
TUNE_LATER = "A round sounds: the tuner opens when it is over."
WHICH_ROOM = "What is this room called? Enter keeps it."
MOVE_TOOLTIP = "A half step: the drone, or the note you tune to in place of the A"
ROOM_TOOLTIP = "Today at the A of a room that was kept"


class TunerScreen(BesideScreen):
    """The note on its staff, its cents, the last seconds' line."""

    BINDINGS = [
        LARGE,
        Binding("a", "hear_a", "Their A", id="hear-a", tooltip="Tune to an A somebody gives"),
        Binding("enter", "take_a", "Take", id="take-a", tooltip="Practise at that A today"),
        Binding("k", "keep", "Keep", id="keep", tooltip="... and keep it under the room's name"),
        *(
            Binding(digit, f"room({digit})", "Room", show=False, tooltip=ROOM_TOOLTIP)
            for digit in map(str, range(1, MOST_ROOMS + 1))
        ),
        Binding("d", "drone", "Drone", id="drone", tooltip="Hold the last note, or fall silent"),
        Binding("up", "move(1)", "Higher", id="higher", show=False, tooltip=MOVE_TOOLTIP),
        Binding("down", "move(-1)", "Lower", id="lower", show=False, tooltip=MOVE_TOOLTIP),
        Binding("f", "above", "Fifth", id="above", tooltip="Above the drone: fifth, octave, both"),
        Binding("p", "pure", "Pure", id="pure", tooltip="Pure above the drone, or tempered"),
        HELP,
        Binding(
            "escape,q,t,pagedown,space", "leave", "Back", id="back", tooltip="Back to practice"
        ),
    ]

    def __init__(
        self,
        practice: Practice,
        names: NoteNames,
        rooms: Sequence[RoomTuning],
        take_a4: Callable[[float, str], None],
    ) -> None:
        """`take_a4` is given the A that the student takes, in Hz, and the room's name if it has
        one."""
        super().__init__(practice)
        self._names = names
        self._rooms = [room for room in rooms if room.room]
        self._take_a4 = take_a4

    def lines(self) -> ComposeResult:
        """What sounds, and what there is to do."""
        yield from super().lines()
        yield Input(placeholder=WHICH_ROOM, max_length=LONGEST_NAME, id="room", disabled=True)

    def use(self, *, wanted: bool) -> None:
        """Tune, or go back."""
        self.practice.tune(wanted)

    def look(self) -> None:
        """Show what sounds now."""
        tuner = self._tuner
        if tuner is None:
            self.write("#title", TITLE)
            self.write("#prompt", OPENING)
            return
        self.write("#title", renamed(title(tuner), self._names))
        self.write("#prompt", renamed(prompt(tuner), self._names))
        asked = renamed(tuner.words, self._names)
        self.write("#notice", self.told(asked or rooms_line(self._rooms)))
        if self.large:
            self.draw(partial(note_rows, tuner, self._names))
        else:
            self.draw(partial(tuner_rows, tuner))

    @property
    def _tuner(self) -> TunerView | None:
        return self.practice.view().tuner

    def action_hear_a(self) -> None:
        """Listen to the note somebody gives: the A, as long as no other was asked for."""
        tuner = self._tuner
        if tuner is not None:
            self.practice.listen_for_a(tuner.given)

    def action_take_a(self) -> None:
        """Take the A that was heard."""
        tuner = self._tuner
        if tuner is not None and tuner.heard_a4_hz is not None:
            self._take(tuner.heard_a4_hz, "")

    def action_keep(self) -> None:
        """Ask for the room's name, to keep the A that was heard."""
        tuner = self._tuner
        if tuner is not None and tuner.heard_a4_hz is not None:
            name = self.query_one("#room", Input)
            name.display, name.disabled = True, False
            name.focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Keep the A under this name."""
        tuner, room = self._tuner, event.value.strip()
        if tuner is not None and tuner.heard_a4_hz is not None:
            self._take(tuner.heard_a4_hz, room)

    def action_room(self, number: int) -> None:
        """Take the A of a room that was kept."""
        if number <= len(self._rooms):
            room = self._rooms[number - 1]
            self._take(room.a4_hz, room.room)

    def _take(self, a4_hz: float, room: str) -> None:
        self.action_leave()
        self._take_a4(a4_hz, room)

    def action_drone(self) -> None:
        """Hold the note heard last, or fall silent."""
        tuner = self._tuner
        if tuner is not None:
            self._hold(tuner, (tuner.written or A4) if tuner.drone is None else None)

    def action_move(self, half_steps: int) -> None:
        """Hold the note a half step from the drone's; without one, listen to another note."""
        tuner = self._tuner
        if tuner is None:
            return
        if tuner.drone is not None:
            self._hold(tuner, usual_pitch(tuner.drone.midi + half_steps))
        elif tuner.a_seconds_left is not None:
            self.practice.listen_for_a(given_beside(tuner.given, half_steps))

    def action_above(self) -> None:
        """A fifth above the drone, an octave, both, neither."""
        tuner = self._tuner
        if tuner is not None and tuner.drone is not None:
            self._hold(replace(tuner, above=tuner.above.next), tuner.drone)

    def action_pure(self) -> None:
        """Pure intervals above the drone, or tempered ones."""
        tuner = self._tuner
        if tuner is not None and tuner.drone is not None:
            self._hold(replace(tuner, pure=not tuner.pure), tuner.drone)

    def _hold(self, as_asked: TunerView, written: Pitch | None) -> None:
        self.practice.sound_drone(written, pure=as_asked.pure, above=as_asked.above)


def given_beside(given: Pitch, half_steps: int) -> Pitch:
    """The note so far from the one given; its octave doesn't matter, and stays about A4's."""
    return usual_pitch(A4.midi + (given.midi + half_steps - A4.midi) % OCTAVE.semitones)


def rooms_line(rooms: Sequence[RoomTuning]) -> str:
    """'1 church 415.3   2 school hall 442.4': the keys that take them."""
    return "   ".join(f"{number} {room.said}" for number, room in enumerate(rooms, start=1))


def title(tuner: TunerView) -> str:
    """'Tuner   A4 = 442   above D4 with its fifth, pure'."""
    parts = [TITLE, f"A4 = {tuner.a4_hz:g}"]
    if tuner.drone is not None:
        held = "" if tuner.above is DroneAbove.NOTHING else f" with its {tuner.above}"
        parts.append(f"above {tuner.drone}{held}, {'pure' if tuner.pure else 'tempered'}")
    return "   ".join(parts)


def prompt(tuner: TunerView) -> str:
    """The note in words, and where it usually stands."""
    if tuner.written is None:
        return PLAY
    told = [str(tuner.written), said_cents(tuner.cents)]
    if tuner.usual_cents is not None:
        told.append(f"usually {said_cents(tuner.usual_cents)}")
    return "   ".join(told)


def said_cents(cents: float) -> str:
    """'7 cents sharp', 'in tune'."""
    whole = round(abs(cents))
    if whole <= 1:
        return "in tune"
    return f"{whole} cents {'sharp' if cents > 0 else 'flat'}"
