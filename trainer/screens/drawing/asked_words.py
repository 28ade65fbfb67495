"""What a round asks for, in a few words."""

from __future__ import annotations

from collections.abc import Iterator

from trainer.music.bars import COMMON_TIME
from trainer.routine.along import along_words
from trainer.routine.round import Round, Vibrato
from trainer.score.asked import tempo_of


def asked_words(round_: Round) -> list[str]:
    """'slurred', 'at 60', '6/8', '4 pulses a beat'; out of time no tempo is named."""
    if not round_.in_time:
        return ["untimed"]
    asked = (*_metre(round_), *_of_the_sound(round_), *along_words(round_))
    return [round_.how, _tempo(round_), *asked]


def _tempo(round_: Round) -> str:
    """'at 60', or 'from 60 to 80' where it changes on the way."""
    if round_.tempo_changes:
        return f"at {tempo_of(round_)}"
    if round_.end_tempo_share == 1:
        return f"at {round_.tempo_bpm:.0f}"
    return f"from {round_.tempo_bpm:.0f} to {round_.tempo_bpm * round_.end_tempo_share:.0f}"


def _metre(round_: Round) -> Iterator[str]:
    """The time it begins in, where it is not common time."""
    if round_.meter != COMMON_TIME:
        yield str(round_.meter)


def _of_the_sound(round_: Round) -> Iterator[str]:
    manner = round_.manner
    if manner.vibrato is not None:
        yield _pulses(manner.vibrato)
    if manner.swell is not None:
        yield f"swell {manner.swell}"
    if manner.loudness:
        yield manner.loudness
    if manner.colour:
        yield manner.colour
    if manner.beside_notes:
        yield manner.beside_notes


def _pulses(vibrato: Vibrato) -> str:
    if vibrato.per_beat == 0:
        return "straight tone"
    count = "1 pulse" if vibrato.per_beat == 1 else f"{vibrato.per_beat} pulses"
    return f"{count} a beat" + (f", {vibrato.depth}" if vibrato.depth else "")
