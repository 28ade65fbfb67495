"""Notes that nothing answered because a louder one still sounded where they were due.

A room rings on, and a loud note's ringing covers a soft one that follows. Who played it can't be
blamed that it wasn't heard: a note is missed where it would have been heard, had it come as softly
as this player plays it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trainer.ear.alignment.align import Answer
from trainer.ear.alignment.expected_times import Due
from trainer.ear.analysis.frames import Frames
from trainer.ear.segments.note_segment import NoteSegment

LOUDER_DB = 10.0
"""By so much a note must be louder than another one to cover it: in even playing neighbours differ
by less, and a note held on over the next is no ringing. Our own estimate."""
SOFT_SHARE = 0.1
"""What is heard nowhere else may be as soft as this share of the notes."""


def covered_notes(
    frames: Frames,
    found: Sequence[NoteSegment],
    answers: Sequence[Answer],
    due: Sequence[Due],
) -> frozenset[int]:
    """Those places of unanswered notes at which a louder note sounded before, and rang over half
    of what was due as loud as that is elsewhere in the take. `due`: of every note, or of none."""
    heard = [(a.index, found[a.segment]) for a in answers if a.index is not None and a.right]
    if not heard or not due:
        return frozenset()
    softest_db = float(np.quantile([one.level_db for _, one in heard], SOFT_SHARE))

    def is_covered(note: Due) -> bool:
        same = [one.level_db for index, one in heard if due[index].midi == note.midi]
        own_db = min(same, default=softest_db)
        before = [one for _, one in heard if one.from_s < note.from_s]
        rings_db = frames.level_db[frames.at(note.from_s) : frames.at(note.to_s)]
        louder = bool(before) and before[-1].level_db > own_db + LOUDER_DB
        return louder and rings_db.size > 0 and float(np.median(rings_db)) > own_db

    unanswered = set(range(len(due))) - {answer.index for answer in answers}
    return frozenset(place for place in unanswered if is_covered(due[place]))
