"""The tuner told in lines, for a screen reader: a note is told once it has settled."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from trainer.app.room_tunings import RoomTuning
from trainer.errors import TrainerError
from trainer.music.names import NoteNames, renamed
from trainer.music.pitch import Pitch, usual_pitch
from trainer.screens.beside_lines import ReadKey, Say, beside_in_lines, in_a_line
from trainer.screens.session_requests import Practice
from trainer.screens.tuner_screen import A4, TUNE_LATER, given_beside, prompt, rooms_line, title
from trainer.session.view import NOTHING_SOUNDS, TunerView, View

SETTLED_S = 0.8
"""As long as the figure is averaged over."""
MOVED_CENTS = 3.0
"""A note that is held is told again when it has moved so far."""
KEYS = (
    "Play a note, and it is told; Space tells it again.",
    "d holds it as a drone, up and down move that, f adds a fifth or an octave, p makes it pure.",
    "a listens to the A somebody gives, up and down then to another note; Enter takes that A for "
    "today. q goes back.",
)
TAKEN = "A4 = {a4_hz:.1f} from the next start on, for today."


class TunerTeller:
    """Turns one view after another into the lines that are new in it."""

    def __init__(self) -> None:
        self._words = ""
        self._note: tuple[Pitch | None, float] | None = None

    def __call__(self, view: View) -> Iterator[str]:
        """What there is to say that was not said yet."""
        tuner = view.tuner
        if tuner is None:
            return
        if tuner.words != self._words:
            self._words = tuner.words
            if tuner.words:
                yield tuner.words
        if tuner.stands_s == 0:
            self._note = None
        elif tuner.stands_s >= SETTLED_S and self._is_new(tuner):
            self._note = (tuner.written, tuner.cents)
            yield in_a_line(prompt(tuner))

    def _is_new(self, tuner: TunerView) -> bool:
        if self._note is None or self._note[0] != tuner.written:
            return True
        return abs(tuner.cents - self._note[1]) >= MOVED_CENTS


def tune_in_lines(
    practice: Practice,
    names: NoteNames,
    rooms: Sequence[RoomTuning],
    take_a4: Callable[[float, str], None],
    read_key: ReadKey,
    say: Say,
) -> None:
    """Tell the tuner and obey keys, until the student goes back.

    `take_a4` is given the A that is taken, in Hz, and the room's name if it has one.
    """
    if practice.view().stage not in NOTHING_SOUNDS:
        say(TUNE_LATER)
        return
    practice.tune(True)
    named = [room for room in rooms if room.room]
    for line in filter(None, (*KEYS, rooms_line(named))):
        say(line)

    def obey(view: View, key: str) -> None:
        if view.tuner is not None:
            _obey(practice, view.tuner, key, named, take_a4, lambda line: say(renamed(line, names)))

    beside_in_lines(practice, names, TunerTeller(), obey, read_key, say)
    practice.tune(False)


def _obey(
    practice: Practice,
    tuner: TunerView,
    key: str,
    rooms: Sequence[RoomTuning],
    take_a4: Callable[[float, str], None],
    say: Say,
) -> None:
    match key:
        case "space":
            say(in_a_line(prompt(tuner)))
        case "a":
            practice.listen_for_a(tuner.given)
        case "enter" if tuner.heard_a4_hz is not None:
            _take(tuner.heard_a4_hz, "", take_a4, say)
        case "d" if tuner.drone is None:
            _hold(practice, replace(tuner, drone=tuner.written or A4), say)
        case "d":
            practice.sound_drone(None)
        case "up" | "down":
            _move(practice, tuner, 1 if key == "up" else -1, say)
        case "f" if tuner.drone is not None:
            _hold(practice, replace(tuner, above=tuner.above.next), say)
        case "p" if tuner.drone is not None:
            _hold(practice, replace(tuner, pure=not tuner.pure), say)
        case _ if key.isdecimal() and 0 < int(key) <= len(rooms):
            room = rooms[int(key) - 1]
            _take(room.a4_hz, room.room, take_a4, say)


def _move(practice: Practice, tuner: TunerView, half_steps: int, say: Say) -> None:
    """The drone a half step on; while somebody gives a note, listen to another."""
    if tuner.drone is not None:
        _hold(practice, replace(tuner, drone=usual_pitch(tuner.drone.midi + half_steps)), say)
    elif tuner.a_seconds_left is not None:
        practice.listen_for_a(given_beside(tuner.given, half_steps))


def _take(a4_hz: float, room: str, take_a4: Callable[[float, str], None], say: Say) -> None:
    try:
        take_a4(a4_hz, room)
    except TrainerError as error:
        say(str(error))
    else:
        say(TAKEN.format(a4_hz=a4_hz))


def _hold(practice: Practice, asked: TunerView, say: Say) -> None:
    practice.sound_drone(asked.drone, pure=asked.pure, above=asked.above)
    say(in_a_line(title(asked)))
