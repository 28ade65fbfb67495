"""What a round asks for, in a few words."""

from __future__ import annotations

from collections.abc import Iterator

from trainer.routine.round import Round, Vibrato


def asked_words(round_: Round) -> list[str]:
    """'slurred', 'at 60', '4 pulses a beat'; out of time no tempo is named."""
    if not round_.in_time:
        return ["out of time"]
    return [str(round_.articulation), f"at {round_.tempo_bpm:.0f}", *_of_the_sound(round_)]


def _of_the_sound(round_: Round) -> Iterator[str]:
    manner = round_.manner
    if manner.vibrato is not None:
        yield _pulses(manner.vibrato)
    if manner.swell is not None:
        yield f"swell {manner.swell}"
    if manner.colour:
        yield manner.colour


def _pulses(vibrato: Vibrato) -> str:
    if vibrato.per_beat == 0:
        return "straight tone"
    count = "1 pulse" if vibrato.per_beat == 1 else f"{vibrato.per_beat} pulses"
    return f"{count} a beat" + (f", {vibrato.depth}" if vibrato.depth else "")
