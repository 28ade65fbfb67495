"""Where a sound's own tone has risen, and how long neither it nor the one before stands, by the
harmonics that each has for itself.

In a room the stroke of a note slow to speak is hidden by what rings, but not that the note before
has stopped: its harmonics fall there, if only by the direct sound's share, and those of the new
note stand later than usual after that. A room brings out one harmonic and makes it come and go by
itself, what a player does all of them do: each counts as much as the others.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Track
from trainer.ear.analysis.order_statistics import quantile
from trainer.ear.analysis.salience import Mask
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.own_harmonics import own_levels, summed_db

STANDS_DB = 3.0
"""A tone stands so near to its usual level ..."""
STOPS_DB = 6.0
"""... and has stopped so far below it. Of a recorded note 54 to 118 ms slow to speak and a quick
one the slow one has the longer gap in .95 dry, .94 in a room of 0.4 s, .89 in 0.7 and .83 in 0.8;
with each harmonic as strong as it is in .95, .90, .82 and .76. With 5 or 7 dB, or 4 dB for what
stands, in no more of the rooms together (our own measurement, 225 and 935 notes in each)."""
USUAL = 0.7
"""This share of a tone, and of each of its harmonics, lies below what is usual of it."""
FAINT_DB = 25.0
"""A harmonic that is usually so much fainter than the strongest doesn't count."""
FEWEST = 2
"""A room may hide how a single one begins, and did so of high notes that spoke at once: where one
was enough nine of those 980 rounds were told of one (`thresholds.TONE_HELD_OFF_S`)."""
RISEN_DB = 6.0
"""A harmonic has risen when it is so near to its usual level ..."""
RISEN_SHARE = 0.25
"""... and a tone when so many of its harmonics have: each by itself, since a room hides the one or
the other. So late as the note was slow to speak it is in .99 of pairs of a recorded note 53 to
118 ms slow and a quick one in a room of 0.7 s and .98 in 0.8 s (our own measurement, 94 and 3,100
notes); with half of them, 10 dB or 3 dB .98 and .96 to .98."""
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


@dataclass(frozen=True)
class Gap:
    """What the harmonics that two neighbouring sounds have for themselves show of the second."""

    seconds: float | None
    """From where the sound before has fallen to where this one stands; negative where what rings
    hides the fall. None where either has too little for itself."""
    risen_s: float | None
    """Where this one has risen; None where it has nothing for itself."""


UNKNOWN = Gap(None, None)


def gap(features: Features, before: NoteSegment, segment: NoteSegment) -> Gap:
    """The gap between two sounds, and where the second has risen after it."""
    from_s = max(before.from_s, segment.from_s - BACK_S)
    until_s = min(segment.to_s, segment.from_s + STANDS_WITHIN_S)
    new = own_levels(features, segment.midi, before.midi, from_s, until_s)
    if new is None:
        return UNKNOWN
    risen_s, stands_s = _risen(*new, segment.from_s), _stands(*new, segment.from_s)
    old = own_levels(features, before.midi, segment.midi, from_s, segment.from_s + FALLS_S)
    if old is None or stands_s is None:
        return Gap(None, risen_s)
    last_s = min(before.to_s, stands_s) - EDGE_S
    stops_s = _stops(*old, before.from_s + EDGE_S, last_s, stands_s + OVERLAP_S)
    return Gap(None if stops_s is None else stands_s - stops_s, risen_s)


def _risen(times_s: Track, levels_db: Track, from_s: float) -> float | None:
    """Where a share of a tone's harmonics have come near to their usual levels."""
    during, looked_at = times_s >= from_s, times_s >= from_s - EARLIER_S
    if not during.any():
        return None
    usual_db = np.array([quantile(level_db, USUAL) for level_db in levels_db[:, during]])
    counts = usual_db >= usual_db.max() - FAINT_DB
    risen_s = [
        _passes(times_s, over_db, int(np.argmax(looked_at & (over_db >= -RISEN_DB))), -RISEN_DB)
        for over_db in levels_db[counts] - usual_db[counts, None]
    ]
    return quantile(np.array(risen_s), RISEN_SHARE)


def _stands(times_s: Track, levels_db: Track, from_s: float) -> float | None:
    """Where a tone comes up to its usual level."""
    over_db = _over_usual_db(levels_db, times_s >= from_s)
    if over_db is None:
        return None
    place = int(np.argmax((times_s >= from_s - EARLIER_S) & (over_db >= -STANDS_DB)))
    return _passes(times_s, over_db, place, -STANDS_DB)


def _stops(
    times_s: Track, levels_db: Track, from_s: float, last_s: float, until_s: float
) -> float | None:
    """Where a tone that stood between two times has last fallen before another."""
    over_db = _over_usual_db(levels_db, (times_s >= from_s) & (times_s <= last_s))
    if over_db is None:
        return None
    stood = np.flatnonzero((over_db >= -STOPS_DB) & (times_s <= until_s))
    return _passes(times_s, over_db, min(int(stood[-1]) + 1, times_s.size - 1), -STOPS_DB)


def _over_usual_db(levels_db: Track, during: Mask) -> Track | None:
    """A tone against what is usual of it while it sounds, each harmonic as strong as the others;
    None where too few of them count."""
    if not during.any():
        return None
    usual_db = np.array([quantile(level_db, USUAL) for level_db in levels_db[:, during]])
    counts = usual_db >= usual_db.max() - FAINT_DB
    if counts.sum() < FEWEST:
        return None
    over_db = summed_db(levels_db[counts] - usual_db[counts, None])
    return over_db - quantile(over_db[during], USUAL)


def _passes(times_s: Track, level_db: Track, place: int, passed_db: float) -> float:
    """When a level was passed on the way to this place, or the place's own time."""
    earlier_db, later_db = level_db[max(0, place - 1)], level_db[place]
    if (earlier_db < passed_db) == (later_db < passed_db):
        return float(times_s[place])
    share = (passed_db - earlier_db) / (later_db - earlier_db)
    return float(times_s[place - 1] + share * (times_s[place] - times_s[place - 1]))
