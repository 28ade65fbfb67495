"""The harmonics of one sound, told from those of its neighbours."""

from __future__ import annotations

import numpy as np

from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Track
from trainer.ear.analysis.salience import Mask
from trainer.ear.analysis.tone_level import WINDOW_S, harmonic_levels_db
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


def stood_before(
    features: Features, before: NoteSegment, segment: NoteSegment, onset_s: float
) -> bool:
    """Whether the strongest harmonic that a sound has for itself stood before its onset already,
    while the note before is said to sound."""
    from_s, until_s = max(before.from_s, onset_s - BEFORE_S), onset_s - RISES_S
    times_s, levels_db = levels_at(features, segment.midi, from_s, segment.to_s)
    own_db = levels_db[apart_from(features.tuning, segment.midi, before.midi, len(levels_db))]
    earlier, during = times_s < until_s, times_s >= onset_s
    if own_db.size == 0 or not earlier.any() or not during.any():
        return False
    usual_db = np.median(own_db[:, during], axis=1)
    strongest = int(usual_db.argmax())
    return bool(own_db[strongest, earlier].max() > usual_db[strongest] - STOOD_DB)


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


def apart_from(tuning: Tuning, midi: float, other: float, count: int) -> Mask:
    """Which of so many harmonics of a pitch none of another pitch comes near."""
    own_hz = tuning.midi_hz(midi) * np.arange(1, count + 1)
    other_hz = tuning.midi_hz(other)
    nearest_hz = other_hz * np.maximum(1, np.round(own_hz / other_hz))
    return np.asarray(np.abs(own_hz - nearest_hz) > NEAR_HZ)
