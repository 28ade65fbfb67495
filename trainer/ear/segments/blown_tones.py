"""Whether what sounds is blown, or struck, or several tones at once, as a piano next door is.

A flute's tone is one and stands as long as the air does; a struck string falls from its beginning
on, and of several tones none has a clear period. One sound says little: a staccato note falls as
well, an airy one is unclear. Only of a whole take, with what was asked of it, is anything said.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trainer.ear.analysis.envelope import Envelope
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Frames
from trainer.ear.segments.note_segment import NoteSegment

SHORTEST_S = 0.08
"""A shorter sound falls as soon as it has risen."""
LOUD_DB = 20.0
"""What is so much softer than the loudest sound says nothing of who plays: from pianissimo to
fortissimo recorded notes of one player lie within some 20 dB."""
ONE_TONE_CLEAR = 0.86
STANDS_DB, LATE_SHARE = 1.0, 0.25
"""A tone stands that in its last quarter is no softer than so much below its second, or is loudest
only after so much of its length."""
QUARTERS = 4
MOST_BLOWN = 0.45
"""Of 56 takes of pianos, guitars and harps, dry to 0.8 s, through walls and without, 54 have a
smaller share of such sounds; of 40 tongued and slurred lines of four flutes in those rooms none has
(the least 0.52). Staccatissimo has as little as 0.03: it is known by its notes. Our own
measurement."""


def is_hardly_blown(features: Features, found: Sequence[NoteSegment]) -> bool:
    """Whether hardly any of a take's sounds stands as a blown tone does."""
    telling = [one for one in found if one.length_s >= SHORTEST_S]
    if not telling:
        return False
    faint_db = max(one.level_db for one in telling) - LOUD_DB
    loud = [one for one in telling if one.level_db > faint_db]
    blown = sum(_is_blown(features.frames, features.envelope, one) for one in loud)
    return blown < MOST_BLOWN * len(loud)


def _is_blown(frames: Frames, envelope: Envelope, segment: NoteSegment) -> bool:
    clarity = frames.clarity[frames.at(segment.from_s) : frames.at(segment.to_s) + 1]
    if float(np.median(clarity)) < ONE_TONE_CLEAR:
        return False
    level_db = envelope.between(envelope.wide_db, segment.from_s, segment.to_s)
    quarters = [float(np.median(part)) for part in np.array_split(level_db, QUARTERS)]
    is_loudest_late = int(level_db.argmax()) > LATE_SHARE * level_db.size
    return is_loudest_late or quarters[-1] > quarters[1] - STANDS_DB
