"""What is told when a round is about to sound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.music.note import Note
from trainer.routine.round import Round
from trainer.session.untimed_round import NoteDue

HELD_BEATS = Fraction(12)
"""Out of time, a note may be held for so long; it ends when the next is due."""


@dataclass(frozen=True)
class RoundBegins:
    """Told to whoever asked when a round is about to sound."""

    round: Round
    sounding: tuple[Note, ...]
    """The round's notes at sounding pitch."""
    first_beat_frame: int
    """Frame of the port's clock at which the first beat sounds."""


ToldOfRound = Callable[[RoundBegins], None]


def each_note_told(round_: Round, tell: ToldOfRound) -> NoteDue:
    """Out of time, whoever plays is told of each note as of a round of its own."""

    def note_due(note: Note, from_frame: int) -> None:
        held = replace(note, beat=Fraction(0), length=HELD_BEATS)
        tell(RoundBegins(round_, (held,), from_frame))

    return note_due
