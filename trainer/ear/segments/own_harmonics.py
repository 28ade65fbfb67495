"""The harmonics of one sound, told from those of its neighbours."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Track
from trainer.ear.analysis.order_statistics import median
from trainer.ear.analysis.salience import Mask
from trainer.ear.analysis.tone_level import FAINTEST, HOP_S, WINDOW_S, harmonic_levels_db
from trainer.ear.segments.note_segment import NoteSegment
from trainer.music.tuning import Tuning

NEAR_HZ = 50.0
"""Two main lobes of the levels' window."""
BEFORE_S = 0.15
"""So far before an onset its own tone is looked for ..."""
RISES_S = 0.03
"""... but for the rise itself, which the levels' window spreads."""
STOOD_DB = 6.0
"""... and stood there where it was no softer than this against the note. A room makes a note's
beginning beat with its own echoes by 15 dB and more: it rose, fell for a twentieth of a second and
rose again, and only then did its pitch win through (recorded notes in a room of 0.8 s)."""
LOOK_BACK_S = 0.25
"""A sound's own tone is followed from so long before its pitch was first seen."""
STANDS_S = 0.1
"""Its loudest within so long after that is where it stands."""
BEGINS_DB = 20.0
"""It begins so far below that ..."""
TONGUE_FIRST_S = 0.02
"""... and the tongue is heard so long before: 17 ms in the median of 360 recorded notes in no room,
11 to 21 in every second of them. Of 874 strokes put there in rooms of 0.4 to 1.8 s, where the whole
sound showed 539 of them more than 25 ms late, 41 came so late and 32 so early (our own measurement,
on pitches that tests.bench.ear.recorded doesn't play)."""
FOOT_DB = 30.0
"""Or it begins here, where the air swings for longer before the tone catches ..."""
LONGEST_FOOT_S = 0.06
"""... but not for longer than this: of nine strokes put still earlier on recorded notes in rooms of
0.4 and 0.8 s six were what another note left ringing, and three air (our own measurement, on
pitches that tests.bench.ear.recorded doesn't play). There the later place is taken, as not sure."""
CLEAR_DB = 10.0
"""But what begins stands so far above the least of it that was there before ..."""
LEAST_RISE_DB = 15.0
"""... and so far below where it stands, or its beginning isn't sure."""
LEAST_CLIMB_DB = 10.0
"""What a hall keeps of the same note from before leaves no more than this to climb: half-way up is
where it begins, then. Of 84 notes of tunes in far halls that climbed so, by less than a far rise,
25 were seen more than 15 ms after that; of those 13 lay within 50 ms of the truth by the whole
sound, 21 by their climb (our own measurement, recorded notes)."""
FALLS_DB = 12.0
"""What is that far below it in the median doesn't stand: the change from one note to the next
reaches any note's harmonics for a moment."""
UP_DB = 6.0
"""It has risen when it is so near to that."""
SPOKEN_DB = 10.0
"""It speaks so far below where it stands (see `stroke_place.SPEAKS_DB`)."""


@dataclass(frozen=True)
class OwnRise:
    """How a sound's own tone rises, whatever rings beside it."""

    stroke_s: float
    """Where the tongue begins it, if the tongue does."""
    begins_s: float
    speaks_s: float
    far: bool
    """Whether it rises far out of what was there of it before."""
    sure: bool
    """False where it doesn't, or where something of it was there so long before that it may be
    another note's."""


@dataclass(frozen=True)
class OwnTone:
    """The harmonics that a sound has for itself, from the beginning of the sound before or from
    shortly before its own to its end."""

    from_s: float
    """Where the sound's pitch was first seen."""
    times_s: Track
    levels_db: Track
    """Of each at these times, re full scale, shape (harmonics, steps)."""

    @property
    def rise(self) -> OwnRise | None:
        """Where it rises and where it speaks; None where it doesn't rise far out of what was there
        of it before."""
        return self.climb if self.climb is not None and self.climb.far else None

    @cached_property
    def climb(self) -> OwnRise | None:
        """Where it rises, far or not; None where it hardly does."""
        times_s = self.times_s
        after = times_s >= self.from_s
        if not after.any() or after.all():
            return None
        level_db = summed_db(self.levels_db)
        rise_db = level_db - level_db[after & (times_s <= self.from_s + STANDS_S)].max()
        up = int(np.argmax(after & (rise_db >= -UP_DB)))
        least_db = float(rise_db[:up].min(initial=0.0))
        if least_db > -LEAST_CLIMB_DB:
            return None
        clear_db = least_db + min(CLEAR_DB, -least_db / 2)
        begins_s, foot_s = (
            _passed_s(times_s, rise_db, 1 + int(np.flatnonzero(rise_db[:up] <= low_db)[-1]), low_db)
            for low_db in (max(clear_db, -BEGINS_DB), max(clear_db, -FOOT_DB))
        )
        stands = int(np.argmax((times_s > begins_s) & (rise_db > -SPOKEN_DB)))
        far = clear_db <= -LEAST_RISE_DB
        sure = far and begins_s - foot_s < LONGEST_FOOT_S
        tongue_s = begins_s - TONGUE_FIRST_S
        return OwnRise(
            stroke_s=min(foot_s, tongue_s) if sure else tongue_s,
            begins_s=begins_s,
            speaks_s=max(begins_s, _passed_s(times_s, rise_db, stands, -SPOKEN_DB)),
            far=far,
            sure=sure,
        )

    def stood_before(self, onset_s: float) -> bool:
        """Whether the strongest of them stood before the sound's onset already."""
        earlier = (self.times_s >= onset_s - BEFORE_S) & (self.times_s < onset_s - RISES_S)
        during = self.times_s >= onset_s
        if not earlier.any() or not during.any():
            return False
        usual_db = np.median(self.levels_db[:, during], axis=1)
        strongest = int(usual_db.argmax())
        return bool(self.levels_db[strongest, earlier].max() > usual_db[strongest] - STOOD_DB)


def own_tone(features: Features, before: NoteSegment, segment: NoteSegment) -> OwnTone | None:
    """What a sound has for itself beside the one before it; None where it has nothing."""
    from_s = max(before.from_s, segment.from_s - LOOK_BACK_S)
    own = own_levels(features, segment.midi, before.midi, from_s, segment.to_s)
    return None if own is None else OwnTone(segment.from_s, *own)


def own_levels(
    features: Features, midi: float, other: float, from_s: float, to_s: float
) -> tuple[Track, Track] | None:
    """Times and there the levels of those harmonics of a pitch that none of the other comes near,
    as `harmonic_levels_db`; None where there are none."""
    times_s, levels_db = levels_at(features, midi, from_s, to_s)
    own = apart_from(features.tuning, midi, other, len(levels_db))
    if times_s.size == 0 or not own.any():
        return None
    return times_s, levels_db[own]


def _passed_s(times_s: Track, rise_db: Track, place: int, passed_db: float) -> float:
    """When a tone would have begun at once whose level passes this one just before a place."""
    low_db, high_db = rise_db[place - 1], rise_db[place]
    share = (passed_db - low_db) / (high_db - low_db)
    inside = float(np.interp(passed_db, _STEP_DB, _INSIDE))
    between_s = times_s[place] - times_s[place - 1]
    return float(times_s[place - 1] + share * between_s - WINDOW_S * (inside - 0.5))


_INSIDE = np.linspace(0.0, 1.0, 1001)
_STEP_DB = 20 * np.log10(np.maximum(_INSIDE - np.sin(2 * np.pi * _INSIDE) / (2 * np.pi), FAINTEST))
"""What the levels' window shows of a tone that begins at once, by how far it lies inside."""


def levels_at(features: Features, midi: float, from_s: float, to_s: float) -> tuple[Track, Track]:
    """Times and there the levels of the harmonics of a pitch, as `harmonic_levels_db`; looked at
    once, where the sound reaches beyond them."""
    place = midi, from_s, to_s
    if place in features.levels:
        return features.levels[place]
    hz, rate = features.tuning.midi_hz(midi), features.sample_rate_hz
    found = harmonic_levels_db(features.samples, rate, hz, from_s, to_s)
    if (to_s + WINDOW_S) * rate < features.samples.size:
        features.levels[place] = found
    return found


def apart_from(
    tuning: Tuning, midi: float, other: float, count: int, near_hz: float = NEAR_HZ
) -> Mask:
    """Which of so many harmonics of a pitch none of another pitch comes near."""
    own_hz = tuning.midi_hz(midi) * np.arange(1, count + 1)
    other_hz = tuning.midi_hz(other)
    nearest_hz = other_hz * np.maximum(1, np.round(own_hz / other_hz))
    return np.asarray(np.abs(own_hz - nearest_hz) > near_hz)


def _apart_from_all(tuning: Tuning, midi: float, others: Iterable[float], count: int) -> Mask:
    """Which of so many harmonics of a pitch none of some others comes near."""
    own = np.ones(count, bool)
    for other in others:
        own &= apart_from(tuning, midi, other, count)
    return own


def own_level_db(
    features: Features, midi: float, from_s: float, to_s: float, others: Iterable[float]
) -> float | None:
    """The usual level of those harmonics of a pitch that none of the other pitches comes near, all
    together; None where there are none, or too little sounds to tell."""
    level_db = _apart_db(features, midi, from_s, to_s, others)
    return median(level_db) if level_db.size else None


def loudest_own_db(
    features: Features, midi: float, from_s: float, to_s: float, others: Iterable[float]
) -> float | None:
    """The highest level of the same; None likewise."""
    level_db = _apart_db(features, midi, from_s, to_s, others)
    return float(level_db.max()) if level_db.size else None


def _apart_db(
    features: Features, midi: float, from_s: float, to_s: float, others: Iterable[float]
) -> Track:
    """The level of those harmonics of a pitch that none of the others comes near, all together,
    shape (steps,)."""
    _, levels_db = levels_at(features, midi, from_s, to_s)
    own = _apart_from_all(features.tuning, midi, others, len(levels_db))
    return summed_db(levels_db[own]) if own.any() else np.zeros(0)


def rise_db(features: Features, segment: NoteSegment, others: Iterable[float]) -> float:
    """How far those harmonics of a sound that none of the other pitches comes near rise above what
    usually was there of them before it; minus infinity where there are none, or nothing tells."""
    times_s, levels_db = levels_at(
        features, segment.midi, segment.from_s - BEFORE_S, segment.to_s + HOP_S
    )
    own = _apart_from_all(features.tuning, segment.midi, others, len(levels_db))
    before, inside = times_s < segment.from_s - RISES_S, times_s >= segment.from_s
    if not (own.any() and before.any() and inside.any()):
        return -np.inf
    level_db = summed_db(levels_db[own])
    return float(level_db[inside].max()) - median(level_db[before])


def stands_from_s(
    features: Features, segment: NoteSegment, others: Iterable[float], from_s: float
) -> float | None:
    """From when on, at that time or later, those harmonics of a sound that none of the other
    pitches comes near stand where they do as its pitch is seen; None where they don't rise far,
    fall again until then, or there are none."""
    to_s = min(segment.to_s, segment.from_s + STANDS_S)
    times_s, levels_db = levels_at(features, segment.midi, from_s - BEFORE_S, to_s)
    own = _apart_from_all(features.tuning, segment.midi, others, len(levels_db))
    early, seen = times_s < from_s - 2 * RISES_S, times_s >= segment.from_s
    if not (own.any() and early.any() and seen.any()):
        return None
    level_db = summed_db(levels_db[own])
    stands_db = float(level_db[seen].max())
    if median(level_db[early]) > stands_db - LEAST_RISE_DB:
        return None
    first = int(np.argmax(~early & (level_db >= stands_db - UP_DB)))
    until = level_db[first : max(first, int(np.argmax(seen))) + 1]
    return float(times_s[first]) if median(until) > stands_db - FALLS_DB else None


def summed_db(levels_db: Track) -> Track:
    """Harmonics of shape (harmonics, steps) together, shape (steps,)."""
    return np.asarray(10 * np.log10((10 ** (levels_db / 10)).sum(axis=0)))
