"""Notes that nothing answered though what they have for themselves sounded where they were due.

Where a room rings on, the pitch of one note may stand over the next, which is there none the less:
the harmonics that only it has are as loud as elsewhere in the take. A note that was left out leaves
none, nor does one in whose place another was played. Where it has none for itself, as the octave of
the note before, it may have sounded if those it shares are heard to begin anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from trainer.ear.alignment.align import Answer, played_at
from trainer.ear.alignment.expected_times import Due
from trainer.ear.analysis.features import Features
from trainer.ear.segments.note_segment import SAME_SOUND_SEMITONES, NoteSegment
from trainer.ear.segments.own_harmonics import own_level_db
from trainer.ear.segments.reattacks import likeliest_beginning

TRACE_DB = 15.0
"""What a note has for itself is no further below what its pitch has elsewhere in the take, or below
the softest sound: of 80 recorded notes left out or played as another, in rooms of 0.8 to 1.8 s, all
but 6 lay 17 to 50 dB below, and those only where others were lost beside them (our own
measurement)."""
NEAR_S = 0.1
"""What begins so long before a note was due may be that note, or what was played in its place. Our
own estimate."""


def traced_notes(
    features: Features,
    found: Sequence[NoteSegment],
    answers: Sequence[Answer],
    due: Sequence[Due],
) -> frozenset[int]:
    """Those places of unanswered notes at which they may have sounded. `due`: of every note, or of
    none."""
    heard = played_at(answers)
    if not heard:
        return frozenset()
    softest_db = min(found[segment].level_db for segment in heard.values())

    @cache
    def own_db(place: int) -> float:
        return _own_db(features, found, due, place)

    def usual_db(midi: float) -> float:
        same = [own_db(place) for place in heard if due[place].midi == midi]
        known = [level_db for level_db in same if level_db > -np.inf]
        return max(softest_db, float(np.median(known))) if known else softest_db

    unanswered = set(range(len(due))) - set(heard)
    sounds = [place for place in unanswered if own_db(place) > softest_db - TRACE_DB]
    traced = {p for p in sounds if own_db(p) > usual_db(due[p].midi) - TRACE_DB}
    hidden = [p for p in unanswered if own_db(p) == -np.inf and not _in_its_place(found, due[p])]
    shared = {place for place in hidden if _may_begin(features, due, place)}
    return frozenset(traced | shared)


def _in_its_place(found: Sequence[NoteSegment], note: Due) -> bool:
    """Whether another sound than a note was heard to begin about where it was due."""
    middle_s = (note.from_s + note.to_s) / 2
    return any(note.from_s - NEAR_S <= sound.from_s < middle_s for sound in found)


def _may_begin(features: Features, due: Sequence[Due], place: int) -> bool:
    """Whether something with the harmonics of a note begins about where it was due, as the octave
    above the note before does; of a repeated one that says nothing."""
    note = due[place]
    if any(due[n].midi == note.midi for n in (place - 1, place + 1) if 0 <= n < len(due)):
        return False
    sound = NoteSegment(note.midi, note.from_s, note.to_s, 0.0)
    begins = likeliest_beginning(sound, features, NEAR_S)
    return begins is not None and begins.log_odds > 0


def _own_db(
    features: Features, found: Sequence[NoteSegment], due: Sequence[Due], place: int
) -> float:
    """The level, where a note was due, of those of its harmonics that neither its neighbours have
    nor what was heard there; minus infinity where it has none."""
    note = due[place]
    beside = [due[near].midi for near in (place - 1, place + 1) if 0 <= near < len(due)]
    beside += [
        sound.midi
        for sound in found
        if sound.from_s < note.to_s
        and sound.to_s > note.from_s
        and abs(sound.midi - note.midi) > SAME_SOUND_SEMITONES
    ]
    own_db = own_level_db(features, note.midi, note.from_s, note.to_s, beside)
    return -np.inf if own_db is None else own_db
