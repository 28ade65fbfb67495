"""Notes that nothing answered though what they have for themselves sounded where they were due.

Where a room rings on, the pitch of one note may stand over the next, which is there none the less:
the harmonics that only it has are as loud as where it was heard. A note that was left out leaves
none, nor does one in whose place another was played. Where it has none for itself, as the octave of
the note before, it may have sounded if those it shares are heard to begin anew, or go on while the
others of that note fall.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from trainer.ear.alignment.align import Answer, played_at
from trainer.ear.alignment.expected_times import Due
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.order_statistics import median
from trainer.ear.analysis.tone_level import WINDOW_S, harmonic_levels_db
from trainer.ear.segments.note_segment import SAME_SOUND_SEMITONES, NoteSegment
from trainer.ear.segments.own_harmonics import apart_from, levels_at, summed_db
from trainer.ear.segments.reattacks import likeliest_beginning

TRACE_DB = 18.0
"""What a note has for itself is no further below what the same harmonics have where its pitch was
heard: of 108 recorded notes left out of lines full of half-steps, silent or the note before held
on, 63 lay 26 dB below and more, dry and in 0.4 s, and of 45 in 0.8 s two by 17 (our own
measurement) ..."""
SOFTEST_DB = 15.0
"""... or, where it wasn't, below the softest sound: of 56 likewise one lay so near, in 0.8 s."""
FALLS_BY_DB = 12.0
"""Of notes that seemed to go on under their octave in a room of 0.8 s and a hall of 1.4 s, what the
octave lacks fell by 16 to 60 dB more than what both have; where the note was held on instead by 8
at most (our own measurement, recorded notes, 10 and 50 places)."""
NEAR_S = 0.1
"""What begins so long before a note was due may be that note, or what was played in its place. Our
own estimate."""
NEARLY_HALF_STEP = 0.75 * (2 ** (1 / 12) - 1)
"""As a share of a pitch: two notes a little out of tune with each other stand so far apart."""
LONGEST_S = 0.15
"""A quick note is no longer."""
ELSEWHERE = 0.5
"""Of its length: what is nearer is the same place. Our own estimate."""
COMPARED = 7
"""With so many of the notes of its pitch that were heard nearest to it: a median of more says no
more, and a long take has dozens. Our own estimate."""


def traced_notes(
    features: Features,
    found: Sequence[NoteSegment],
    answers: Sequence[Answer],
    due: Sequence[Due],
    also_due: Sequence[Sequence[Due]] = (),
) -> frozenset[int]:
    """Those places of unanswered notes at which they may have sounded. `due`: of every note, or of
    none; also_due: the same, where each may have been instead."""
    heard = played_at(answers)
    if not heard:
        return frozenset()
    softest_db = min(found[segment].level_db for segment in heard.values())

    def own_db(place: int, here: Due) -> float:
        return _own_db(features, here, _beside(found, due, place, here))

    def is_traced(place: int, here: Due, level_db: float) -> bool:
        if level_db == -np.inf:
            return False
        beside = _beside(found, due, place, here)
        alike = [other for other in heard if due[other].midi == here.midi]
        near = sorted(alike, key=lambda other: abs(other - place))[:COMPARED]
        known = [_own_db(features, due[other], beside) for other in near]
        least_db = float(np.median(known)) - TRACE_DB if known else softest_db - SOFTEST_DB
        return level_db > least_db

    unanswered = set(range(len(due))) - set(heard)
    due_db = {place: own_db(place, due[place]) for place in unanswered}
    traced = {
        place
        for place in unanswered
        if is_traced(place, due[place], due_db[place])
        or any(is_traced(place, at, own_db(place, at)) for at in _elsewhere(due, also_due, place))
    }
    hidden = [
        place
        for place in unanswered - traced
        if due_db[place] == -np.inf and not _in_its_place(found, due[place])
    ]
    shared = {
        place
        for place in hidden
        if _may_begin(features, due, place) or _gives_way(features, found, due[place])
    }
    return frozenset(traced | shared)


def _elsewhere(due: Sequence[Due], also_due: Sequence[Sequence[Due]], place: int) -> list[Due]:
    """Where else than where it was due a note may have been, but for what is nearly the same."""
    note = due[place]
    others = [other[place] for other in also_due]
    return [o for o in others if abs(o.from_s - note.from_s) > ELSEWHERE * o.length_s]


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


def _gives_way(features: Features, found: Sequence[NoteSegment], note: Due) -> bool:
    """Whether a sound that seems to go on over a note has given way to its harmonics there: what it
    has for itself has fallen, and what both have hasn't."""
    middle_s = (note.from_s + note.to_s) / 2
    over = [one for one in found if one.from_s < note.from_s - NEAR_S and one.to_s > middle_s]
    if not over:
        return False
    sound = over[-1]
    times_s, levels_db = levels_at(features, sound.midi, sound.from_s, sound.to_s)
    own = apart_from(features.tuning, sound.midi, note.midi, len(levels_db))
    before = times_s < note.from_s - NEAR_S
    during = (times_s > middle_s) & (times_s < note.to_s)
    if own.all() or not (own.any() and before.any() and during.any()):
        return False
    own_db, shared_db = summed_db(levels_db[own]), summed_db(levels_db[~own])
    own_falls_db = median(own_db[before]) - median(own_db[during])
    shared_falls_db = median(shared_db[before]) - median(shared_db[during])
    return own_falls_db > shared_falls_db + FALLS_BY_DB


def _beside(found: Sequence[NoteSegment], due: Sequence[Due], place: int, here: Due) -> list[float]:
    """The pitches of a note's neighbours, and of what else was heard where it may have been."""
    beside = [due[near].midi for near in (place - 1, place + 1) if 0 <= near < len(due)]
    asked = np.array([here.midi, *beside])
    return beside + [
        sound.midi
        for sound in found
        if sound.from_s < here.to_s
        and sound.to_s > here.from_s
        and (np.abs(sound.midi - asked) > SAME_SOUND_SEMITONES).all()
    ]


def _own_db(features: Features, note: Due, others: Iterable[float]) -> float:
    """The usual level, while a note was due, of those of its harmonics that none of the others
    comes near, all together; minus infinity where there are none. The window is as long as keeps
    its first harmonic apart from that of a half-step away."""
    hz, rate = features.tuning.midi_hz(note.midi), features.sample_rate_hz
    window_s = float(np.clip(2.0 / (hz * NEARLY_HALF_STEP), WINDOW_S, LONGEST_S))
    inside_s = min(window_s, note.length_s) / 2
    _, levels_db = harmonic_levels_db(
        features.samples, rate, hz, note.from_s + inside_s, note.to_s - inside_s, window_s
    )
    own = np.ones(len(levels_db), bool)
    for other in others:
        own &= apart_from(features.tuning, note.midi, other, own.size, 2.0 / window_s)
    if levels_db.size == 0 or not own.any():
        return -np.inf
    return median(summed_db(levels_db[own]))
