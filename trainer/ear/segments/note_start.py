"""How a note started, from what stands at its seam and at those of its neighbours.

No sign decides alone: real slurs over leaps dip by 10 dB, a room fills every gap, a microphone may
cut the consonants off. And each note is heard in its passage, as an ear does: what the neighbours'
signs are like in the mean, and how much they differ, is weighed with the note's own. A small
network with one hidden layer (Bishop 1995, Neural Networks for Pattern Recognition, ch. 6) does
the weighing; `tests/bench/ear/fit_starts.py` fits it, on made sound of two kinds, dry and in rooms,
with consonants strong, weak, late and missing, and on one player's recorded notes and phrases.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from trainer.ear.segments.transition import Transition
from trainer.music.note import Start

Weights = NDArray[np.float64]
Mask = NDArray[np.bool_]

KINDS = (Start.SLURRED, Start.LEGATO_TONGUE, Start.TONGUED, Start.BREATH)
DETACHED = (Start.TONGUED, Start.BREATH)
NEIGHBOURS = 8
"""On either side."""
FEWEST_TO_DIFFER = 3
LEAP_DIP_DB = 0.9
LEAP_GAP_S = 0.002
LEAP_HOLLOW_S = 0.004
LEAP_GAIN = 0.4
"""What a slur does without the tongue, for each semitone of a leap: measured on one player's
recorded legato, where steps dip by some 5 dB and octaves by 15."""
AGAIN_SEMITONES = 0.6
"""Nothing nearer than this is slurred to: the same note again needs a tongue or a breath."""
ASKED = 2.0
"""How much more likely the start that was asked for is than it sounds, as a logarithm; plain
evidence weighs more."""
BREATH_UNLIKELY = 6.0
"""Starts without the tongue are rare outside their own exercise and need stronger signs there."""
BURST_CLEAR_DB = 5.0
SOFT_STROKE_DB = 4.0
"""A soft stroke's own climb; a room delays the change of tones by some 6 ms, not the stroke."""
BURST_NEAR_S = 0.016
BURST_SURE_DB = 10.0
HESITATES_S = 0.03
HESITATES_GAIN = 0.1
"""On air that goes on, a gap like this is a note slow to speak: it starts when it sounds."""
SWELL_S = 0.006
"""A breath's noise has begun this long before its steepest rise."""


@dataclass(frozen=True)
class StartClassifier:
    """The network's weights; the last row of each is the constant term."""

    hidden: Weights
    """Shape (signs + 1, units)."""
    output: Weights
    """Shape (units + 1, kinds)."""
    straight: Weights
    """Past the hidden layer, shape (signs + 1, kinds)."""

    def evidence(self, signs: Weights) -> Weights:
        """Log likelihood of each of KINDS up to a constant, shape (starts, kinds), from signs of
        shape (starts, signs)."""
        signs = _with_constant(signs)
        units = np.tanh(signs @ self.hidden)
        return np.asarray(_with_constant(units) @ self.output + signs @ self.straight)


@cache
def start_model() -> StartClassifier:
    """The model as fitted."""
    fitted = json.loads(
        files("trainer.ear.segments").joinpath("note_start.json").read_text(encoding="utf-8")
    )
    return StartClassifier(*(np.array(fitted[name]) for name in ("hidden", "output", "straight")))


def kinds_of_start(
    transitions: Sequence[Transition], joined: Sequence[bool], asked: Sequence[Start | None]
) -> tuple[Start, ...]:
    """The kinds as heard; `joined`: the sound before reaches up to this one; `asked`: how the note
    should start, where that is known."""
    if not transitions:
        return ()
    reaches = np.array(joined, bool)
    weighed = start_model().evidence(signs_of_starts(transitions, joined))
    weighed += np.array([_expectation(start) for start in asked])
    if Start.BREATH not in asked:
        weighed[:, KINDS.index(Start.BREATH)] -= BREATH_UNLIKELY
    free = np.array([kind not in DETACHED for kind in KINDS])
    weighed[~reaches[:, None] & free[None, :]] = -np.inf
    again = np.array([transition.leap_semitones < AGAIN_SEMITONES for transition in transitions])
    weighed[again, KINDS.index(Start.SLURRED)] = -np.inf
    return tuple(KINDS[int(best)] for best in weighed.argmax(axis=1))


def _expectation(asked: Start | None) -> Weights:
    tongued = Start.TONGUED if asked is Start.BACK_TONGUED else asked
    return np.array([ASKED if kind is tongued else 0.0 for kind in KINDS])


def signs_of_starts(transitions: Sequence[Transition], joined: Sequence[bool]) -> Weights:
    """Each start's own signs, the mean of its joined neighbours' and their standard deviation, all
    of the order of 1, shape (starts, 3 · signs)."""
    reaches = np.array(joined, bool)
    own = np.array(
        [_signs(transition, joins) for transition, joins in zip(transitions, joined, strict=True)]
    )
    counted = np.where(reaches[:, None], own, 0.0)
    count = _among_neighbours(reaches.astype(np.float64)[:, None])
    sums, squares = _among_neighbours(counted), _among_neighbours(counted**2)
    mean = np.where(count > 0, sums / np.maximum(count, 1), own)
    spread = np.sqrt(np.maximum(squares / np.maximum(count, 1) - mean**2, 0.0))
    spread = np.where(count >= FEWEST_TO_DIFFER, spread, 0.0)
    return np.concatenate([own, mean, spread], axis=1)


def _signs(transition: Transition, joined: bool) -> list[float]:
    """The signs of one start."""
    ahead_s = transition.begin_s - transition.transient_s
    leap = transition.leap_semitones if joined else 0.0
    gain = float(np.clip(transition.gap_gain, 0.0, 1.0)) / (1.0 + LEAP_GAIN * leap)
    gap_s = transition.gap_s - LEAP_GAP_S * leap
    dip_db = transition.dip_db - LEAP_DIP_DB * leap
    hollow_s = max(0.0, transition.hollow_s - LEAP_HOLLOW_S * leap)
    burst = float(np.clip((transition.transient_db - 3.0) / 3.0, 0.0, 4.0))
    near = max(0.0, 1.0 - abs(ahead_s) / 0.015)
    return [
        float(np.clip(gap_s / 0.02, 0.0, 4.0)),
        min(gain / 0.03, 3.0),
        float(np.log1p(gain / 0.003)),
        float(np.clip(dip_db / 8.0, 0.0, 4.0)),
        min(hollow_s / 0.02, 4.0),
        burst,
        near,
        float(np.clip(ahead_s / 0.01, -1.0, 2.0)),
        min(transition.rises_s / 0.04, 3.0),
        float(np.clip(transition.high_dip_db / 5.0, 0.0, 4.0)),
        burst * near,
    ]


def _among_neighbours(values: Weights) -> Weights:
    """Sum over the neighbours on either side, itself left out; same shape."""
    sums = np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(values, axis=0)])
    place = np.arange(len(values))
    first, end = np.maximum(place - NEIGHBOURS, 0), np.minimum(place + NEIGHBOURS + 1, len(values))
    return np.asarray(sums[end] - sums[first] - values)


def _with_constant(values: Weights) -> Weights:
    return np.concatenate([values, np.ones((len(values), 1))], axis=1)


def onset_of(transition: Transition, start: Start) -> float:
    """When the note starts: the change of tones under a slur, else the stroke or the rise."""
    if start in (Start.SLURRED, Start.LEGATO_TONGUE) and transition.change_s is not None:
        struck = (
            transition.transient_db >= SOFT_STROKE_DB
            and abs(transition.transient_s - transition.change_s) < BURST_NEAR_S
        )
        if start is Start.LEGATO_TONGUE and struck:
            return transition.transient_s
        hesitates = transition.gap_s > HESITATES_S and transition.gap_gain > HESITATES_GAIN
        return transition.begin_s if hesitates else transition.change_s
    heard = transition.transient_db >= BURST_CLEAR_DB
    if start is Start.BREATH:
        return transition.transient_s - SWELL_S if heard else transition.begin_s
    near = abs(transition.transient_s - transition.begin_s) < BURST_NEAR_S
    sure = transition.transient_db >= BURST_SURE_DB or (heard and near)
    return transition.transient_s if sure else transition.begin_s
