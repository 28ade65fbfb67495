"""How long neither of two neighbouring sounds stands, by the harmonics that each has for itself.

In a room the stroke of a note slow to speak is hidden by what rings, but not that the note before
has stopped: its harmonics fall there, if only by the direct sound's share, and those of the new
note stand later than usual after that.
"""

from __future__ import annotations

import numpy as np

from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Track
from trainer.ear.analysis.order_statistics import quantile
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.own_harmonics import own_levels, summed_db

STANDS_DB = 3.0
"""A tone stands so near to its usual level ..."""
STOPS_DB = 6.0
"""... and has stopped so far below it. Of a recorded note 60 to 118 ms slow to speak and a quick
one the slow one has the longer gap in .96 dry, .92 in a room of 0.4 s, .86 in 0.7 and .82 in 0.8;
with 4 or 9 dB, 6 dB for what stands, or windows of 25 ms, in no more of the rooms together (our own
measurement, 31 and 360 notes in each)."""
USUAL = 0.7
"""This share of a tone lies below what is usual of it."""
STANDS_WITHIN_S = 0.3
BACK_S = 0.4
"""What is looked at before and after the place where the pitch of the new sound was first seen."""
EARLIER_S = 0.06
"""Its harmonics stand no earlier before that."""
FALLS_S = 0.15
"""The old tone is followed so far beyond that."""
EDGE_S = 0.03
"""What the levels' window mixes with the neighbours."""
OVERLAP_S = 0.02
"""Two detached notes sound together no longer."""


def gap_s(features: Features, before: NoteSegment, segment: NoteSegment) -> float | None:
    """From where the sound before has fallen to where this one stands, by what each has for itself;
    negative where what rings hides the fall. None where either has nothing for itself."""
    from_s = max(before.from_s, segment.from_s - BACK_S)
    until_s = min(segment.to_s, segment.from_s + STANDS_WITHIN_S)
    new = own_levels(features, segment.midi, before.midi, from_s, until_s)
    old = own_levels(features, before.midi, segment.midi, from_s, segment.from_s + FALLS_S)
    if new is None or old is None:
        return None
    stands_s = _stands(new[0], summed_db(new[1]), segment.from_s)
    last_s = None if stands_s is None else min(before.to_s, stands_s) - EDGE_S
    if stands_s is None or last_s is None:
        return None
    stops_s = _stops(old[0], summed_db(old[1]), before.from_s, last_s, stands_s + OVERLAP_S)
    return None if stops_s is None else stands_s - stops_s


def _stands(times_s: Track, level_db: Track, from_s: float) -> float | None:
    """Where a tone comes up to its usual level."""
    during = times_s >= from_s
    if not during.any():
        return None
    stands_db = quantile(level_db[during], USUAL) - STANDS_DB
    place = int(np.argmax((times_s >= from_s - EARLIER_S) & (level_db >= stands_db)))
    return _passes(times_s, level_db, place, stands_db)


def _stops(
    times_s: Track, level_db: Track, from_s: float, last_s: float, until_s: float
) -> float | None:
    """Where a tone that stood between two times has last fallen before another."""
    during = (times_s >= from_s + EDGE_S) & (times_s <= last_s)
    if not during.any():
        return None
    stops_db = quantile(level_db[during], USUAL) - STOPS_DB
    stood = np.flatnonzero((level_db >= stops_db) & (times_s <= until_s))
    return _passes(times_s, level_db, min(int(stood[-1]) + 1, times_s.size - 1), stops_db)


def _passes(times_s: Track, level_db: Track, place: int, passed_db: float) -> float:
    """When a level was passed on the way to this place, or the place's own time."""
    earlier_db, later_db = level_db[max(0, place - 1)], level_db[place]
    if (earlier_db < passed_db) == (later_db < passed_db):
        return float(times_s[place])
    share = (passed_db - earlier_db) / (later_db - earlier_db)
    return float(times_s[place - 1] + share * (times_s[place] - times_s[place - 1]))
