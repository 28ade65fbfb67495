"""What is wrong with the sound itself, each a sentence with what to do."""

from __future__ import annotations

import numpy as np

from trainer.ear.frames import Frames, Samples
from trainer.ear.sounds import voiced

FULL_SCALE = 0.985
CLIPPED_SHARE = 0.0005
SOFT_DB = -52.0
NOISE_BELOW_TONE_DB = 15.0
NARROW_RATE_HZ = 22050


def sound_warnings(samples: Samples, sample_rate_hz: int, frames: Frames) -> tuple[str, ...]:
    """Clipping, softness, noise and a narrow band; empty when all is well."""
    warnings = []
    if samples.size and np.mean(np.abs(samples) >= FULL_SCALE) > CLIPPED_SHARE:
        warnings.append(
            "The microphone is overloaded: turn its input level down, or stand further away."
        )
    tone = voiced(frames)
    if tone.any():
        loud_db = float(np.percentile(frames.level_db[tone], 75))
        floor_db = float(np.percentile(frames.level_db, 2))
        if loud_db < SOFT_DB:
            warnings.append(
                "You are very soft here: turn the microphone's input level up, or stand nearer."
            )
        if loud_db - floor_db < NOISE_BELOW_TONE_DB and (~tone).mean() > 0.05:
            warnings.append(
                "There is much noise around you: a quieter room or a nearer microphone would help."
            )
    if sample_rate_hz < NARROW_RATE_HZ:
        warnings.append(
            "This sound has no high frequencies (low sampling rate): starts are hard to hear."
        )
    return tuple(warnings)
