"""What a room keeps of a note is no note.

A tail is explained before it is a note: its harmonics fall as the room does, and never stand higher
than what sounded before them would have left.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trainer.ear.analysis.features import Features
from trainer.ear.analysis.order_statistics import slope
from trainer.ear.analysis.tone_level import HOP_S
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.own_harmonics import apart_from, levels_at

SOFTER_DB = 6.0
"""Only what is so much softer than a sound shortly before may be its tail."""
FAINT_DB = 35.0
"""The last of a tail may come and go once more: 38 to 41 dB under its note, in 4 of 412 held notes
in rooms of 0.7 and 0.8 s. Our own measurement."""
TAIL_WITHIN_S = 1.5
"""A room's tail is over after so long."""
LOOK_BACK_S = 1.0
SETTLED_S = 0.02
"""The window of the levels reaches so far into what follows."""
UNKNOWN_DECAY_DB_PER_S = 60.0
"""A room of one second, where no note end has been heard yet: common practice, no source."""
STEEPEST_DB_PER_S = 150.0
"""A room of 0.4 s; what a player's release alone takes away is no law for what follows."""
FALLING_SHARE = 0.5
"""A tail falls as the room does; a soft note stands for a while."""
FEWEST_STEPS = 3
"""Levels that say anything of a fall."""
STRONG_DB = 15.0
RISES_DB = 4.0
"""Of 267 true notes that follow a louder one none rises less above what the room would have left
of it; tails stay below 3 dB. Our own measurement, rooms up to 0.8 s."""


def is_tail(
    features: Features,
    segment: NoteSegment,
    earlier: Sequence[NoteSegment],
    after: NoteSegment | None,
) -> bool:
    """Whether the room explains a sound by what was before it."""
    near = [other for other in earlier[-8:] if segment.from_s - other.to_s < TAIL_WITHIN_S]
    if after is None and _is_faint(segment, near):
        return True
    softer_db = max((other.level_db - segment.level_db for other in near), default=0.0)
    return softer_db > SOFTER_DB and _only_rings(features, segment, after)


def _is_faint(segment: NoteSegment, near: Sequence[NoteSegment]) -> bool:
    """Whether it is softer than one of its own pitch by more than a flute's notes differ."""
    return any(
        other.has_pitch_of(segment) and other.level_db > segment.level_db + FAINT_DB
        for other in near
    )


def _only_rings(features: Features, segment: NoteSegment, after: NoteSegment | None) -> bool:
    """Whether a sound's strong harmonics fall with the room and never rise above what is left of
    them from before it; those that a louder sound after it shares tell nothing."""
    times_s, levels_db = levels_at(features, segment.midi, segment.from_s, segment.to_s)
    own = np.ones(len(levels_db), bool)
    rises = after is not None and after.level_db > segment.level_db
    if after is not None and rises and segment.is_joined_to(after):
        own = apart_from(features.tuning, segment.midi, after.midi, len(levels_db))
    if times_s.size < FEWEST_STEPS or not own.any():
        return False
    falls_db_per_s = _falls_db_per_s(features)
    own_db = levels_db[own]
    strongest_db = own_db[own_db.max(axis=1).argmax()]
    if -slope(strongest_db, HOP_S) <= FALLING_SHARE * falls_db_per_s:
        return False
    before_s, before_db = levels_at(
        features, segment.midi, segment.from_s - LOOK_BACK_S, segment.from_s - SETTLED_S
    )
    if before_s.size == 0:
        return False
    strong = own_db.max(axis=1) > own_db.max() - STRONG_DB
    since_db = (before_db[own] + falls_db_per_s * before_s).max(axis=1)
    left_db = since_db[:, None] - falls_db_per_s * times_s[None, :]
    return float((own_db - left_db)[strong].max()) < RISES_DB


def _falls_db_per_s(features: Features) -> float:
    """How fast the room lets a tone fall."""
    room = features.room
    falls_db_per_s = UNKNOWN_DECAY_DB_PER_S if room is None else 60.0 / room.decay_s
    return min(falls_db_per_s, STEEPEST_DB_PER_S)
