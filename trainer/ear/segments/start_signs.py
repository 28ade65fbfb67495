"""What a transition shows of how its note started, as numbers of the order of 1.

No sign decides alone: real slurs over leaps dip by 10 dB, a room fills every gap, a microphone may
cut the consonants off.
"""

from __future__ import annotations

import math

from trainer.ear.segments.transition import Transition

LEAP_DIP_DB = 0.9
"""See LEAP_GAIN."""
LEAP_GAP_S = 0.002
"""See LEAP_GAIN."""
LEAP_HOLLOW_S = 0.004
LEAP_GAIN = 0.4
"""What a slur does without the tongue, for each semitone of a leap: measured on one player's
recorded legato, where steps dip by some 5 dB and octaves by 15."""


def signs_of(transition: Transition, joined: bool) -> list[float]:
    """The signs of one start; joined: whether the sound before reaches up to it."""
    ahead_s = transition.begin_s - transition.transient_s
    leap = transition.leap_semitones if joined else 0.0
    gain = _held(transition.gap_gain, 0.0, 1.0) / (1.0 + LEAP_GAIN * leap)
    gap_s = transition.gap_s - LEAP_GAP_S * leap
    dip_db = transition.dip_db - LEAP_DIP_DB * leap
    hollow_s = max(0.0, transition.hollow_s - LEAP_HOLLOW_S * leap)
    burst = _held((transition.transient_db - 3.0) / 3.0, 0.0, 4.0)
    near = max(0.0, 1.0 - abs(ahead_s) / 0.015)
    return [
        _held(gap_s / 0.02, 0.0, 4.0),
        min(gain / 0.03, 3.0),
        math.log1p(gain / 0.003),
        _held(dip_db / 8.0, 0.0, 4.0),
        min(hollow_s / 0.02, 4.0),
        burst,
        near,
        _held(ahead_s / 0.01, -1.0, 2.0),
        min(transition.rises_s / 0.04, 3.0),
        _held(transition.high_dip_db / 5.0, 0.0, 4.0),
        burst * near,
    ]


def _held(value: float, lowest: float, highest: float) -> float:
    """The value, held between two."""
    return min(max(value, lowest), highest)
