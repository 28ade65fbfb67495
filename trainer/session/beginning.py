"""What a session begins with, beside the day's exercises and the port they sound on.

Light to load: a session is asked for before what makes and hears sound is there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.coach.history import History
from trainer.routine.plan import PAUSE_AFTER_ROUND_S

if TYPE_CHECKING:
    from trainer.routine.round import Round
    from trainer.session.microphone_check import CheckAsked
    from trainer.session.round_begins import ToldOfRound
    from trainer.sound.partner import Voice
    from trainer.sound.port import Samples

KeepTake = Callable[["Round", "Samples", int], object]
"""Given a round, its sound and the rate; raises SoundError where it can't be kept."""

KeepTwo = Callable[["Round", "Samples", "Samples", int], object]
"""Given a round, the teacher's sound of it, the student's, and the rate; raises SoundError."""


@dataclass(frozen=True)
class Beginning:
    """What a session begins with."""

    now: Callable[[], datetime]
    """Dates what is written down, with its offset from UTC; no clock for anything that sounds."""
    student: str = ""
    pause_s: float = PAUSE_AFTER_ROUND_S
    """Between a round and the next count-in."""
    round_begins: ToldOfRound = lambda _: None
    """Told of each round."""
    notices: Sequence[str] = ()
    """Said from the first."""
    history: History | None = None
    """What earlier days have left; None where nothing is known of them."""
    keep_take: KeepTake | None = None
    keep_two: KeepTwo = lambda *_: None
    """Keeps what teacher and student played, where they ask for it."""
    check_asked: CheckAsked | None = None
    """The microphone is to be looked at before the first round."""
    level_before_db: float | None = None
    """How loud the player usually is at this microphone, re full scale; None where that isn't
    known."""
    voice: Voice | None = None
    """The partner's, where it isn't its own tone."""
    usual_cents: Mapping[int, float] = field(default_factory=dict)
    """Where each note of this flute usually stands, by MIDI number of the written pitch."""
