"""The tuner: any note at any time beside the routine, a drone to play above, somebody else's A."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from trainer.music.names import NoteNames, renamed
from trainer.music.pitch import Pitch, usual_pitch
from trainer.screens.beside_screen import LARGE, OPENING, BesideScreen
from trainer.screens.drawing.tuner_face import note_rows, tuner_rows
from trainer.screens.session_requests import Practice
from trainer.session.view import DroneAbove, TunerView

A4 = Pitch("A", 0, 4)
PLAY = "Play any note."


class TunerScreen(BesideScreen):
    """The note on its staff, its cents, the last seconds' line."""

    LOOKS_PER_S = 20
    """Quick enough for a hand on the headjoint."""

    BINDINGS = [
        LARGE,
        Binding("a", "hear_a", "Their A", id="hear-a", tooltip="Tune to an A somebody gives"),
        Binding("enter", "take_a", "Take", id="take-a", tooltip="Practise at that A today"),
        Binding("d", "drone", "Drone", id="drone", tooltip="Hold the last note, or fall silent"),
        Binding(
            "up", "move(1)", "Higher", id="higher", show=False, tooltip="The drone a half step up"
        ),
        Binding(
            "down",
            "move(-1)",
            "Lower",
            id="lower",
            show=False,
            tooltip="The drone a half step down",
        ),
        Binding("f", "above", "Fifth", id="above", tooltip="Above the drone: fifth, octave, both"),
        Binding("p", "pure", "Pure", id="pure", tooltip="Pure above the drone, or tempered"),
        Binding("question_mark,f1", "app.help", "Help", id="help", tooltip="All keys"),
        Binding(
            "escape,q,t,pagedown,space", "leave", "Back", id="back", tooltip="Back to practice"
        ),
    ]

    def __init__(
        self, practice: Practice, names: NoteNames, take_a4: Callable[[float], None]
    ) -> None:
        """`take_a4` is given the A that was heard, in Hz, when the student takes it."""
        super().__init__(practice)
        self._names = names
        self._take_a4 = take_a4

    def lines(self) -> ComposeResult:
        """What sounds, and what there is to do."""
        yield from super().lines()
        yield Static(id="notice", markup=False)

    def use(self, *, wanted: bool) -> None:
        """Tune, or go back."""
        self.practice.tune(wanted)

    def look(self) -> None:
        """Show what sounds now."""
        tuner, size = self._tuner, self.size_to_draw()
        if tuner is None:
            self.write("#prompt", OPENING)
            return
        self.write("#title", renamed(title(tuner), self._names))
        self.write("#prompt", renamed(prompt(tuner), self._names))
        self.write("#notice", tuner.words)
        if size is not None:
            if self.large:
                self.draw(note_rows(tuner, self._names, *size))
            else:
                self.draw(tuner_rows(tuner, *size))

    @property
    def _tuner(self) -> TunerView | None:
        return self.practice.view().tuner

    def action_hear_a(self) -> None:
        """Listen to somebody else's A."""
        self.practice.listen_for_a()

    def action_take_a(self) -> None:
        """Take the A that was heard."""
        tuner = self._tuner
        if tuner is not None and tuner.heard_a4_hz is not None:
            self.action_leave()
            self._take_a4(tuner.heard_a4_hz)

    def action_drone(self) -> None:
        """Hold the note heard last, or fall silent."""
        tuner = self._tuner
        if tuner is not None:
            self._hold(tuner, (tuner.written or A4) if tuner.drone is None else None)

    def action_move(self, half_steps: int) -> None:
        """Hold the note a half step from the drone's."""
        tuner = self._tuner
        if tuner is not None and tuner.drone is not None:
            self._hold(tuner, usual_pitch(tuner.drone.midi + half_steps))

    def action_above(self) -> None:
        """A fifth above the drone, an octave, both, neither."""
        tuner = self._tuner
        if tuner is not None and tuner.drone is not None:
            held = list(DroneAbove)
            above = held[(held.index(tuner.above) + 1) % len(held)]
            self._hold(replace(tuner, above=above), tuner.drone)

    def action_pure(self) -> None:
        """Pure intervals above the drone, or tempered ones."""
        tuner = self._tuner
        if tuner is not None and tuner.drone is not None:
            self._hold(replace(tuner, pure=not tuner.pure), tuner.drone)

    def _hold(self, as_asked: TunerView, written: Pitch | None) -> None:
        self.practice.sound_drone(written, pure=as_asked.pure, above=as_asked.above)


def title(tuner: TunerView) -> str:
    """'Tuner   A4 = 442   above D4 with its fifth, pure'."""
    parts = ["Tuner", f"A4 = {tuner.a4_hz:g}"]
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
