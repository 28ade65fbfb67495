"""What the networks see at a place of a take, looked at once and kept."""

from __future__ import annotations

from trainer.ear.analysis.features import Features
from trainer.ear.segments.seam_patch import STEP_S, STEPS, seam_patch
from trainer.ear.segments.speaking_network import speaking_network
from trainer.ear.segments.start_network import Values, start_network

PITCH_STEPS = 4
"""To so many parts of a semitone a pitch is rounded, so that a sound that grows by a little is the
same place still."""


def seen_at(
    features: Features, at_s: float, before_midi: float, after_midi: float
) -> tuple[Values, Values]:
    """What the network of starts and that of speaking see about a time between two pitches, each
    of shape (units,)."""
    before, after = round(before_midi * PITCH_STEPS), round(after_midi * PITCH_STEPS)
    place = round(at_s * 1000), before, after
    keys = ("start", *place), ("speaking", *place)
    if keys[0] in features.seen:
        return features.seen[keys[0]], features.seen[keys[1]]
    rate = features.sample_rate_hz
    before_hz = features.tuning.midi_hz(before / PITCH_STEPS)
    after_hz = features.tuning.midi_hz(after / PITCH_STEPS)
    patch = seam_patch(features.samples, rate, place[0] / 1000, before_hz, after_hz)[None]
    seen = start_network().seen(patch)[0], speaking_network().seen(patch)[0]
    if (at_s + STEPS * STEP_S) * rate < features.samples.size:
        features.seen.update(zip(keys, seen, strict=True))
    return seen
