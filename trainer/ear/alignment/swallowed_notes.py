"""Whether the microphone swallows the flute, as noise suppression made for voices does.

It lets through what it takes for a voice, the low notes or a note's beginning, and turns the rest
down to nothing at all. Where a player is silent, a live microphone goes on hearing the room.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from trainer.ear.alignment.expected_times import Due
from trainer.ear.analysis.envelope import Envelope
from trainer.ear.analysis.order_statistics import quantile

SWALLOWED_SHARE = 0.25
"""Of the notes. Our own estimate."""
NOTHING_DB = -105.0
"""Softer than what rounding to 16 bits leaves, -101 dB (a step over the root of 12; Bennett 1948,
Bell Syst Tech J 27:446), let alone a room."""
FADED_SHARE = 0.3
"""Of a note's time: what was let through of its beginning takes a moment to fade."""


def are_swallowed(levels: Envelope, due: Sequence[Due], heard: Collection[int]) -> bool:
    """Whether nothing was to be heard where many notes were due. `due`: of every note, or of none;
    heard: the places of those that were answered, behind the last of which the microphone may have
    been unplugged."""
    until = max(heard, default=len(due))
    silent = [
        place not in heard
        and quantile(levels.between(levels.wide_db, note.from_s, note.to_s), FADED_SHARE)
        < NOTHING_DB
        for place, note in enumerate(due[:until])
    ]
    return sum(silent) > SWALLOWED_SHARE * len(due)
