"""Whether a passage holds one long note, rather than talk, noise or nothing."""

from __future__ import annotations

import numpy as np

from trainer.ear.analysis.frames import Samples
from trainer.ear.analysis.free_pitch import FreePitch
from trainer.ear.live.awaited_tone import SURE, cents_apart

LOUD_PERCENTILE = 95
LOUD_WITHIN_DB = 10.0
"""So far below the loudest a frame still counts as sounding: what rings on does not."""
VIBRATO_CENTS = 50.0
ONE_PITCH_SHARE = 0.6
"""So much of what sounds stands on one pitch. Recorded notes, pianissimo to forte: 0.65 and more,
a soft one that a noise gate chops up likewise; people talking: at most 0.32
(tests/bench/RESULTS.md, 'Free pitch and the first note')."""


def is_one_note(samples: Samples, sample_rate_hz: int) -> bool:
    """Most of what sounds stands on one pitch; samples: shape (samples,)."""
    readings = FreePitch(sample_rate_hz).feed(samples)
    if not readings:
        return False
    loud_db = np.percentile([r.level_db for r in readings], LOUD_PERCENTILE) - LOUD_WITHIN_DB
    sounding = [r for r in readings if r.level_db > loud_db]
    hz = [r.hz for r in sounding if r.hz is not None and r.confidence >= SURE]
    if not hz:
        return False
    middle_hz = float(np.median(hz))
    on_pitch = sum(cents_apart(one, middle_hz) <= VIBRATO_CENTS for one in hz)
    return on_pitch >= ONE_PITCH_SHARE * len(sounding)
