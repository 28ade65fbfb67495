"""The first morning: a newcomer's flute, tuning, microphone and delay, one after the other.

A flow without a screen: `tick` it often, show its `view`, hand it what the newcomer does. Every
step can be gone past; nothing is written before the last.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from threading import Event, Thread
from typing import TYPE_CHECKING, TypeAlias

from trainer.app.settings import CHOICES, Settings, words
from trainer.session.view import CheckStep

if TYPE_CHECKING:
    from trainer.session.microphone_check import SoundCheck
    from trainer.sound.calibrate import RoundTrip
    from trainer.sound.port import SoundPort

Measure: TypeAlias = "Callable[[Callable[[], bool]], RoundTrip | None]"
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
HEARD = (FirstRunStep.MICROPHONE, FirstRunStep.DELAY)
"""Steps that need the devices."""
QUESTIONS = {
    FirstRunStep.INSTRUMENT: "Which flute do you play?",
    FirstRunStep.TUNING: "Which A do you tune to? A piano nearby decides. If in doubt, go on.",
    FirstRunStep.DELAY: (
        "Sound needs a moment from the loudspeaker back to the microphone. PageDown measures it "
        "in seven seconds of chirps; with headphones on, press n: it isn't needed."
    ),
    FirstRunStep.DONE: "That was all. PageDown for a first round of two minutes.",
}
OPENING = "One moment: the sound is being opened."
MEASURING = "Listening to the chirps ..."
UNHEARD = "The chirps were not heard. PageDown goes on; `trainer calibrate` measures later."
NO_MICROPHONE = "There is no microphone: practice goes on unheard until you plug one in."


@dataclass(frozen=True)
class Devices:
    """The newcomer's microphone and loudspeaker."""

    port: SoundPort
    begin_check: Callable[[], SoundCheck]
    """Begins a check of the microphone."""
    measure: Measure
    """Run in a thread of its own."""


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
    zone_db: tuple[float, float] | None
    """Where the level should be."""
    seconds_left: float | None
    waits: bool
    """PageDown does something now."""
    measures: bool
    """It measures how long sound takes."""


class FirstMorning:
    """One newcomer's first steps with their devices, by the port's clock."""

    def __init__(self, devices: Callable[[], Devices | None], settings: Settings) -> None:
        """`devices` gives None until they are open."""
        self.settings = settings
        self.round_trip: RoundTrip | None = None
        self._devices = devices
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
            zone_db=None if check is None else check.zone_db,
            seconds_left=None if check is None else check.seconds_left,
            waits=not self._is_busy(),
            measures=self._can_measure(),
        )

    def tick(self) -> None:
        """Let the check of the microphone, or the measuring, go on."""
        if self._step is FirstRunStep.MICROPHONE:
            self._follow_check()
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
        elif self._can_measure():
            self._begin_measuring()
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
            self._follow_check()
        elif step is FirstRunStep.DELAY and not self._listens():
            self._step = FirstRunStep.DONE
        self._chosen = self._place_of_setting()

    def _follow_check(self) -> None:
        """Begin the check as soon as there are devices, and let it go on."""
        if self._check is not None:
            self._check.tick()
        elif (devices := self._devices()) is not None:
            self._check = devices.begin_check()

    def _listens(self) -> bool:
        """There is a microphone, as far as anybody knows."""
        devices = self._devices()
        return devices is None or devices.port.listens

    def _can_measure(self) -> bool:
        idle = self._measuring is None and not self._unheard
        return self._step is FirstRunStep.DELAY and idle and self._devices() is not None

    def _begin_measuring(self) -> None:
        self._given_up.clear()
        self._measuring = Thread(target=self._find_delay, name="delay", daemon=True)
        self._measuring.start()

    def _find_delay(self) -> None:
        devices = self._devices()
        assert devices is not None
        self.round_trip = devices.measure(self._given_up.is_set)

    def _is_busy(self) -> bool:
        match self._step:
            case FirstRunStep.MICROPHONE:
                return self._check is None or self._check.view().step is not CheckStep.DONE
            case FirstRunStep.DELAY:
                return self._devices() is None or self._measuring is not None
            case _:
                return False

    def _place_of_setting(self) -> int:
        if self._step not in ASKED:
            return 0
        value = getattr(self.settings, self._step)
        offered = CHOICES[self._step]
        return offered.index(value) if value in offered else 0

    def _choices(self) -> tuple[str, ...]:
        return tuple(map(words, CHOICES[self._step])) if self._step in ASKED else ()

    def _words(self) -> str:
        if self._step in HEARD and self._devices() is None:
            return OPENING
        if self._step is FirstRunStep.MICROPHONE and self._check is not None:
            return self._check.view().words if self._listens() else NO_MICROPHONE
        if self._step is FirstRunStep.DELAY and self._measuring is not None:
            return MEASURING
        if self._step is FirstRunStep.DELAY and self._unheard:
            return UNHEARD
        return QUESTIONS[self._step]
