"""The first morning: a newcomer's flute, tuning, microphone and delay, one after the other.

A flow without a screen: `tick` it often, show its `view`, hand it what the newcomer does. Every
step can be gone past; nothing is written before the last.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from threading import Event, Thread

from trainer.app.settings import CHOICES, Settings, words
from trainer.session.microphone_check import SoundCheck
from trainer.session.view import CheckStep
from trainer.sound.calibrate import RoundTrip
from trainer.sound.port import SoundPort

Measure = Callable[[Callable[[], bool]], RoundTrip | None]
"""Measures the delay, blocking; given a question whether to give up meanwhile."""


class FirstRunStep(StrEnum):
    """What the newcomer is asked."""

    INSTRUMENT = "instrument"
    TUNING = "tuning"
    MICROPHONE = "microphone"
    DELAY = "delay"
    DONE = "done"


STEPS = tuple(FirstRunStep)
ASKED = (FirstRunStep.INSTRUMENT, FirstRunStep.TUNING)
"""Steps with a choice; each is a setting of that name."""
QUESTIONS = {
    FirstRunStep.INSTRUMENT: "Which flute do you play?",
    FirstRunStep.TUNING: "Which A do you tune to? A piano nearby decides; if in doubt, leave it.",
    FirstRunStep.DELAY: (
        "Sound needs a moment from the loudspeaker back to the microphone. PageDown measures it "
        "in seven seconds of chirps; with headphones on, press n: it isn't needed."
    ),
    FirstRunStep.DONE: "That was all. PageDown for a first round of two minutes.",
}
MEASURING = "Listening to the chirps ..."
UNHEARD = "The chirps were not heard. PageDown goes on; `trainer calibrate` measures later."
NO_MICROPHONE = "There is no microphone: practice goes on unheard until you plug one in."


@dataclass(frozen=True)
class FirstMorningView:
    """What a screen needs at this moment."""

    step: FirstRunStep
    number: int
    """Of this step, from 1."""
    of: int
    words: str
    choices: tuple[str, ...]
    chosen: int
    level_db: float | None
    """While the microphone is checked."""
    seconds_left: float | None
    waits: bool
    """PageDown does something now."""


class FirstMorning:
    """One newcomer's first steps on a port, by its clock."""

    def __init__(self, port: SoundPort, settings: Settings, measure: Measure) -> None:
        """`measure` runs in a thread of its own."""
        self.settings = settings
        self.round_trip: RoundTrip | None = None
        self._port = port
        self._measure = measure
        self._step = FirstRunStep.INSTRUMENT
        self._chosen = self._place_of_setting()
        self._check: SoundCheck | None = None
        self._measuring: Thread | None = None
        self._given_up = Event()
        self._unheard = False

    def view(self) -> FirstMorningView:
        """Where the newcomer stands."""
        check = (
            self._check.view() if self._check and self._step is FirstRunStep.MICROPHONE else None
        )
        return FirstMorningView(
            step=self._step,
            number=STEPS.index(self._step) + 1,
            of=len(STEPS),
            words=self._words(),
            choices=self._choices(),
            chosen=self._chosen,
            level_db=None if check is None or check.step is CheckStep.DONE else check.level_db,
            seconds_left=None if check is None else check.seconds_left,
            waits=not self._is_busy(),
        )

    def tick(self) -> None:
        """Let the check of the microphone, or the measuring, go on."""
        if self._check is not None and self._step is FirstRunStep.MICROPHONE:
            self._check.tick()
        if self._measuring is not None and not self._measuring.is_alive():
            self._measuring = None
            self._unheard = self.round_trip is None
            if not self._unheard and self._step is FirstRunStep.DELAY:
                self._go_to(FirstRunStep.DONE)

    def choose(self, steps: int) -> None:
        """Move the choice up or down."""
        if self._step in ASKED:
            count = len(self._choices())
            self._chosen = min(count - 1, max(0, self._chosen + steps))

    def advance(self) -> None:
        """Take the choice, or do what the step is for."""
        if self._step in ASKED:
            value = CHOICES[self._step][self._chosen]
            self.settings = replace(self.settings, **{str(self._step): value})  # type: ignore[arg-type]
            self.skip()
        elif self._step is FirstRunStep.DELAY and self._can_measure():
            self._given_up.clear()
            self._measuring = Thread(target=self._find_delay, name="delay", daemon=True)
            self._measuring.start()
        elif not self._is_busy():
            self.skip()

    def skip(self) -> None:
        """Leave this step as it is."""
        self._given_up.set()
        if self._step is not FirstRunStep.DONE:
            self._go_to(STEPS[STEPS.index(self._step) + 1])

    def _go_to(self, step: FirstRunStep) -> None:
        self._step = step
        if step is FirstRunStep.MICROPHONE:
            self._check = SoundCheck(self._port)
        elif step is FirstRunStep.DELAY and not self._port.listens:
            self._step = FirstRunStep.DONE
        self._chosen = self._place_of_setting()

    def _can_measure(self) -> bool:
        return self._measuring is None and not self._unheard

    def _find_delay(self) -> None:
        self.round_trip = self._measure(self._given_up.is_set)

    def _is_busy(self) -> bool:
        if self._step is FirstRunStep.MICROPHONE and self._check is not None:
            return self._check.view().step is not CheckStep.DONE
        return self._measuring is not None and self._step is FirstRunStep.DELAY

    def _place_of_setting(self) -> int:
        if self._step not in ASKED:
            return 0
        value = getattr(self.settings, self._step)
        offered = CHOICES[self._step]
        return offered.index(value) if value in offered else 0

    def _choices(self) -> tuple[str, ...]:
        return tuple(map(words, CHOICES[self._step])) if self._step in ASKED else ()

    def _words(self) -> str:
        if self._step is FirstRunStep.MICROPHONE and self._check is not None:
            return self._check.view().words if self._port.listens else NO_MICROPHONE
        if self._step is FirstRunStep.DELAY and self._measuring is not None:
            return MEASURING
        if self._step is FirstRunStep.DELAY and self._unheard:
            return UNHEARD
        return QUESTIONS[self._step]
