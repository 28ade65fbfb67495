"""Notes that nothing answered though what they have for themselves sounded where they were due.

Where a room rings on, the pitch of one note may stand over the next, which is there none the less:
the harmonics that only it has are as loud as where it was heard. A note that was left out leaves
none, nor does one in whose place another was played. Where it has none for itself, as the octave of
the note before, it may have sounded if those it shares are heard to begin anew.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trainer.ear.alignment.align import Answer, played_at
from trainer.ear.alignment.expected_times import Due
from trainer.ear.analysis.features import Features
from trainer.ear.segments.note_segment import SAME_SOUND_SEMITONES, NoteSegment
from trainer.ear.segments.own_harmonics import own_level_db
from trainer.ear.segments.reattacks import likeliest_beginning

TRACE_DB = 15.0
"""What a note has for itself is no further below what the same harmonics have where its pitch was
heard, or, where that wasn't, below the softest sound: of 22 recorded notes left out, most of them a
half-step from the note before, dry and in rooms of 0.4 and 0.8 s, 20 lay 23 to 53 dB below, and two
6 and 8, whose own harmonics hardly sound when they are played (our own measurement)."""
NEAR_S = 0.1
"""What begins so long before a note was due may be that note, or what was played in its place. Our
own estimate."""
COMPARED = 7
"""With so many of the notes of its pitch that were heard nearest to it: a median of more says no
more, and a long take has dozens. Our own estimate."""


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

    def usual_db(place: int) -> float:
        alike = [other for other in heard if due[other].midi == due[place].midi]
        near = sorted(alike, key=lambda other: abs(other - place))[:COMPARED]
        known = [_own_db(features, found, due, place, at=other) for other in near]
        return float(np.median(known)) if known else softest_db

    unanswered = set(range(len(due))) - set(heard)
    own_db = {place: _own_db(features, found, due, place, at=place) for place in unanswered}
    traced = {p for p in unanswered if own_db[p] > usual_db(p) - TRACE_DB}
    hidden = [p for p in unanswered if own_db[p] == -np.inf and not _in_its_place(found, due[p])]
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
    features: Features, found: Sequence[NoteSegment], due: Sequence[Due], place: int, *, at: int
) -> float:
    """The level, where another note of its pitch or itself was due, of those of a note's harmonics
    that neither its neighbours have nor what was heard in its place; minus infinity where it has
    none."""
    note, when = due[place], due[at]
    beside = [due[near].midi for near in (place - 1, place + 1) if 0 <= near < len(due)]
    beside += [
        sound.midi
        for sound in found
        if sound.from_s < note.to_s
        and sound.to_s > note.from_s
        and abs(sound.midi - note.midi) > SAME_SOUND_SEMITONES
    ]
    own_db = own_level_db(features, note.midi, when.from_s, when.to_s, beside)
    return -np.inf if own_db is None else own_db
