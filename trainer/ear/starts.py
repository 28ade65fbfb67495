"""How a note started, from what stands at its seam.

No sign decides alone: real slurs over leaps dip by 10 dB, a room fills every gap, a microphone may
cut the consonants off. So all of them are weighed together (multinomial logistic regression), and
each note is heard among its neighbours, as an ear does: articulation seldom changes in the middle
of a passage. The weights were fitted on made sound of two kinds, dry and in rooms, with consonants
strong, weak, late and missing; what a slurred leap does was measured on recorded phrases.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from trainer.ear.boundary import Seam
from trainer.music.note import Start

Weights = NDArray[np.float64]

KINDS = (Start.SLURRED, Start.LEGATO_TONGUE, Start.TONGUED, Start.BREATH)
DETACHED = (Start.TONGUED, Start.BREATH)
SIGNS: Weights = np.array(
    [
        [-0.62, -0.69, 0.24, 1.08],
        [-0.33, -0.12, 0.41, 0.05],
        [-0.14, 0.97, -0.41, -0.42],
        [-1.83, 0.14, 0.73, 0.96],
        [-0.85, -0.37, 0.24, 0.98],
        [-0.70, -1.06, 1.23, 0.53],
        [0.70, -0.51, 1.18, -1.38],
        [0.07, -0.29, -0.45, 0.67],
        [-0.61, 0.67, -0.06, 0.00],
        [1.85, 0.08, -0.65, -1.28],
        [1.94, 0.08, -0.72, -1.30],
    ]
)
"""Rows: the signs in the order of `_signs`; columns: KINDS."""
NEIGHBOURS = 8
"""On either side."""
NEIGHBOURS_WEIGH = 3.0
LEAP_DIP_DB = 0.9
LEAP_GAP_S = 0.002
LEAP_HOLLOW_S = 0.004
LEAP_GAIN = 0.4
SLUR_DIP_DB = 1.5
"""What a slur does without the tongue, for each semitone of a leap and at a step: measured on one
player's recorded legato, where steps dip by some 5 dB and octaves by 15."""
BREATH_UNLIKELY = 6.0
LEAST_LOG = -6.0
"""One note speaks against a kind no more strongly than this to its neighbours."""
BURST_CLEAR_DB = 5.0
BURST_NEAR_S = 0.016
BURST_SURE_DB = 10.0
HESITATES_S = 0.03
HESITATES_GAIN = 0.1
"""On air that goes on, a gap like this is a note slow to speak: it starts when it sounds."""
SWELL_S = 0.006
"""A breath's noise has begun this long before its steepest rise."""


def kinds_of_start(
    seams: Sequence[Seam], joined: Sequence[bool], breath_likely: bool
) -> tuple[Start, ...]:
    """The kinds as heard; `joined`: the sound before reaches up to this one.

    Starts without the tongue are rare outside their own exercise: unless breath_likely, they need
    much stronger signs.
    """
    if not seams:
        return ()
    reaches = np.array(joined, bool)
    signs = np.array([_signs(seam, joins) for seam, joins in zip(seams, joined, strict=True)])
    own = signs @ SIGNS
    if not breath_likely:
        own[:, KINDS.index(Start.BREATH)] -= BREATH_UNLIKELY
    own -= np.log(np.exp(own - own.max(axis=1, keepdims=True)).sum(axis=1, keepdims=True))
    own -= own.max(axis=1, keepdims=True)
    weighed = own + NEIGHBOURS_WEIGH * _among_neighbours(np.maximum(own, LEAST_LOG), reaches)
    free = np.array([kind not in DETACHED for kind in KINDS])
    weighed[~reaches[:, None] & free[None, :]] = -np.inf
    return tuple(KINDS[int(best)] for best in weighed.argmax(axis=1))


def _signs(seam: Seam, joined: bool) -> list[float]:
    """The signs of one start, each of the order of 1."""
    ahead_s = seam.begin_s - seam.burst_s
    leap = seam.leap_semitones if joined else 0.0
    gain = float(np.clip(seam.gap_gain, 0.0, 1.0)) / (1.0 + LEAP_GAIN * leap)
    gap_s = seam.gap_s - LEAP_GAP_S * leap
    dip_db = seam.dip_db - LEAP_DIP_DB * leap - (SLUR_DIP_DB if joined else 0.0)
    hollow_s = max(0.0, seam.hollow_s - LEAP_HOLLOW_S * leap)
    return [
        float(np.clip(gap_s / 0.02, 0.0, 4.0)),
        min(gain / 0.03, 3.0),
        float(np.log1p(gain / 0.003)),
        float(np.clip(dip_db / 8.0, 0.0, 4.0)),
        min(hollow_s / 0.02, 4.0),
        float(np.clip((seam.burst_db - 3.0) / 3.0, 0.0, 4.0)),
        max(0.0, 1.0 - abs(ahead_s) / 0.015),
        float(np.clip(ahead_s / 0.01, -1.0, 2.0)),
        min(seam.rises_s / 0.04, 3.0),
        float(joined),
        1.0,
    ]


def _among_neighbours(own: Weights, joined: NDArray[np.bool_]) -> Weights:
    """Mean of the joined neighbours' log likelihoods, itself left out, shape of `own`."""
    counted = np.where(joined[:, None], own, 0.0)
    sums = np.concatenate([np.zeros((1, own.shape[1])), np.cumsum(counted, axis=0)])
    numbers = np.concatenate([[0], np.cumsum(joined)])
    place = np.arange(len(own))
    first, end = np.maximum(place - NEIGHBOURS, 0), np.minimum(place + NEIGHBOURS + 1, len(own))
    others = numbers[end] - numbers[first] - joined
    return np.asarray((sums[end] - sums[first] - counted) / np.maximum(others, 1)[:, None])


def onset_of(seam: Seam, start: Start) -> float:
    """When the note starts: the change of tones under a slur, else the stroke or the rise."""
    if start in (Start.SLURRED, Start.LEGATO_TONGUE) and seam.change_s is not None:
        hesitates = seam.gap_s > HESITATES_S and seam.gap_gain > HESITATES_GAIN
        return seam.begin_s if hesitates else seam.change_s
    heard = seam.burst_db >= BURST_CLEAR_DB
    if start is Start.BREATH:
        return seam.burst_s - SWELL_S if heard else seam.begin_s
    near = abs(seam.burst_s - seam.begin_s) < BURST_NEAR_S
    sure = seam.burst_db >= BURST_SURE_DB or (heard and near)
    return seam.burst_s if sure else seam.begin_s
