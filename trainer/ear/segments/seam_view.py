"""What the network of starts sees at a place of a take, looked at once and kept."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trainer.ear.analysis.features import Features
from trainer.ear.segments.seam_patch import STEP_S, STEPS, seam_patch
from trainer.ear.segments.start_network import StartNetwork

PITCH_STEPS = 4
"""To so many parts of a semitone a pitch is rounded, so that a sound that grows by a little is the
same place still."""


def seen_at(
    network: StartNetwork, features: Features, at_s: float, before_midi: float, after_midi: float
) -> NDArray[np.float32]:
    """What the network sees about a time between two pitches, shape (units,)."""
    before, after = round(before_midi * PITCH_STEPS), round(after_midi * PITCH_STEPS)
    place = "start", round(at_s * 1000), before, after
    if place in features.seen:
        return features.seen[place]
    rate = features.sample_rate_hz
    before_hz = features.tuning.midi_hz(before / PITCH_STEPS)
    after_hz = features.tuning.midi_hz(after / PITCH_STEPS)
    patch = seam_patch(features.samples, rate, round(at_s * 1000) / 1000, before_hz, after_hz)
    seen: NDArray[np.float32] = network.seen(patch[None])[0]
    if (at_s + STEPS * STEP_S) * rate < features.samples.size:
        features.seen[place] = seen
    return seen
