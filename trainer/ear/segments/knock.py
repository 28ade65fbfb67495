"""Whether a foot tapped, or something knocked, where a note starts: it may only seem struck.

A tap has its energy below the flute's lowest note and is soon over; a tongue leaves nothing there.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from trainer.ear.analysis.envelope import filtered_db
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.order_statistics import median

LOW_HZ, LOW_S = 150.0, 0.02
"""Below lie taps of a foot and no tone of a flute; smoothed over some periods."""
SETTLES_S = 0.1
"""The filter has forgotten by then what was before."""
NEAR_S = 0.06
"""No tap is looked for further from a seam."""
BEFORE_S, AFTER_S = 0.1, 0.12
"""From a tap's top to where it hasn't begun, and to where it is over."""
STANDS_OUT_DB = 12.0
UNDER_TONE_DB = 5.0
"""A knock stands out so far below 150 Hz from what was and what comes, and lies so little, if at
all, below the whole sound. Of 893 strokes beside low piano notes, short and held, a metronome's
beeps or wood blocks and of 299 beside nothing none has it, and the latter lie 13 dB and more below;
of 48 slurs heard as strokes beside taps of seven kinds 22, of 184 right strokes beside them 6. Our
own measurement; fresh takes in tests/bench/RESULTS.md."""


def knocks_at(features: Features, seam_s: float) -> bool:
    """Whether there is a knock at a seam, loud enough to be taken for a stroke."""
    levels = features.envelope
    near, before, after, aside = (
        round(reach_s / levels.step_s) for reach_s in (NEAR_S, BEFORE_S, AFTER_S, 2 * LOW_S)
    )
    seam = round(seam_s / levels.step_s)
    first = max(0, seam - near - before - aside)
    low_db = _low_db(features, first, seam + near + after + aside)
    from_ = max(first, seam - near) - first
    top = from_ + int(low_db[from_ : seam + near - first].argmax())
    beside_db = max(low_db[max(0, top - before) : top + 1].min(), low_db[top : top + after].min())
    sound_db = median(levels.between(levels.wide_db, seam_s - NEAR_S, seam_s + NEAR_S))
    stands_out = low_db[top] - beside_db > STANDS_OUT_DB
    return bool(stands_out and low_db[top] > sound_db - UNDER_TONE_DB)


def _low_db(features: Features, first: int, end: int) -> NDArray[np.float32]:
    """The level below LOW_HZ from one step of the envelope's grid to another, measured once where
    all of it was heard."""
    place = "low", first, end
    if place in features.seen:
        return features.seen[place]
    rate, step_s = features.sample_rate_hz, features.envelope.step_s
    level_db = filtered_db(
        features.samples, rate, _low(rate), SETTLES_S, LOW_S, first * step_s, end * step_s
    ).astype(np.float32)
    if level_db.size == end - first:
        features.seen[place] = level_db
    return level_db


@cache
def _low(sample_rate_hz: int) -> NDArray[np.float64]:
    """The filter that leaves what lies below, shape (sections, 6)."""
    sections = signal.butter(4, LOW_HZ, "lowpass", fs=sample_rate_hz, output="sos")
    return np.asarray(sections, np.float64)
