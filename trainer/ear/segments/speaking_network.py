"""A small learned network that says where a note was struck, where it spoke and how long it took.

It sees the picture of `seam_patch` about a seam and is told the pitches and what came before. It
answers in chances, so that it can say that it doesn't know: over where the stroke lies, over where
the tone speaks, and over how long the one came after the other. It is told nothing of what was
asked. Convolutions over time (LeCun & Bengio 1995, 'Convolutional networks for images, speech, and
time series'); its chances are those after their temperatures were fitted on voices kept apart (Guo,
Pleiss, Sun & Weinberger 2017, 'On calibration of modern neural networks', ICML).
`tests/bench/ear/fit` makes the sound it was fitted on, fits it and writes its weights.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from trainer.ear.segments.note_segment import JOINED_S, NoteSegment

Values = NDArray[np.float32]
Chances = NDArray[np.float64]

STRIDES = (2, 2, 2, 1)
"""Of the convolutions."""
FACTS = 7
"""Numbers given beside the picture."""
PLACES_S = np.arange(-24, 17) * 0.008
"""Where a stroke or a speaking may lie, against the seam."""
DELAYS_S = np.array([0.0, 0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.075, 0.09, 0.11, 0.14, 0.18])
"""How long a note took to speak: at least each of these, and less than the next."""
SLOW_S = 0.05
"""A note that takes so long is slow to speak: of one professional's 249 recorded notes nine in ten
need less than 0.04 s, slow ones 0.05 to 0.12 (our own measurement). Our own estimate."""
NEAR_S = 0.0201
"""A place is right so near to the true one."""
HEADS = ("stroke", "speaks", "delay")
_LONG_S = 0.5
"""Longer is all the same to it."""


def speaking_facts(before: NoteSegment | None, segment: NoteSegment) -> Values:
    """What is told of a note's beginning: whether the sound before reaches up to it, both pitches,
    how long the note lasts, how long before it that sound has ended, and how much louder it is."""
    last = before or segment
    apart_s = _LONG_S if before is None else segment.from_s - before.to_s
    joined = float(apart_s < JOINED_S)
    leap, length = (segment.midi - last.midi) / 12, min(segment.length_s, _LONG_S) / 0.25
    apart = min(max(apart_s, -_LONG_S), _LONG_S) / 0.1
    louder = (segment.level_db - last.level_db) / 12
    told = [joined, leap * joined, leap, (segment.midi - 80) / 12, length, apart, louder]
    return np.array(told, np.float32)


@dataclass(frozen=True)
class HeardPlace:
    """A place as it is heard."""

    at_s: float
    """Against the seam."""
    chance: float
    """That it is right within NEAR_S."""


@dataclass(frozen=True)
class Spoken:
    """What is heard of one note."""

    stroke: Chances
    """Over PLACES_S."""
    speaks: Chances
    """Over PLACES_S."""
    delay: Chances
    """Over DELAYS_S."""

    @property
    def stroke_place(self) -> HeardPlace:
        """Where it is struck."""
        return _likeliest(self.stroke)

    @property
    def speaks_place(self) -> HeardPlace:
        """Where its tone stands."""
        return _likeliest(self.speaks)

    @property
    def slow_chance(self) -> float:
        """That it took SLOW_S or longer to speak."""
        return float(self.delay[DELAYS_S >= SLOW_S].sum())


@dataclass(frozen=True)
class SpeakingNetwork:
    """The weights, float32; `conv…` of shape (taps · rows in, rows out), the rest (in, out)."""

    weights: dict[str, Values]

    def seen(self, patches: Values) -> Values:
        """What is seen in patches of shape (places, rows, steps); shape (places, units)."""
        seen = np.ascontiguousarray(patches.transpose(0, 2, 1))
        for number, stride in enumerate(STRIDES):
            seen = _rising(self._convolved(seen, f"conv{number}", stride))
        return seen.reshape(len(seen), -1)

    def spoken(self, seen: Values, facts: Values) -> Spoken:
        """What is heard of the note at one place, from what is seen there, shape (units,), and told
        of it, shape (FACTS,)."""
        look = _rising(self._through(np.concatenate([seen, facts])[None], "look"))
        return Spoken(*(self._shares(self._through(look, head)[0], head) for head in HEADS))

    def _shares(self, values: Values, head: str) -> Chances:
        logs = values.astype(np.float64) / float(self.weights[f"{head}_temperature"])
        chances = np.exp(logs - logs.max())
        return np.asarray(chances / chances.sum())

    def _through(self, values: Values, layer: str) -> Values:
        return values @ self.weights[layer] + self.weights[f"{layer}_bias"]

    def _convolved(self, seen: Values, layer: str, stride: int) -> Values:
        """Five taps over time, zeros beyond the ends; shape (places, steps / stride, rows)."""
        padded = np.pad(seen, ((0, 0), (2, 2), (0, 0)))
        steps = seen.shape[1] // stride
        taps = [padded[:, tap : tap + stride * steps : stride] for tap in range(5)]
        return self._through(np.concatenate(taps, axis=2), layer)


def _rising(values: Values) -> Values:
    return np.maximum(values, np.float32(0))


def _likeliest(chances: Chances) -> HeardPlace:
    """The place about which most of the chances over PLACES_S lie, and the middle of these."""
    around = _NEAR @ chances
    best = int(around.argmax())
    own = chances * _NEAR[best]
    return HeardPlace(float(own @ PLACES_S / own.sum()), float(around[best]))


_NEAR = np.abs(PLACES_S[:, None] - PLACES_S[None]) <= NEAR_S


@cache
def speaking_network() -> SpeakingNetwork:
    """The network as fitted."""
    path = files("trainer.ear.segments").joinpath("speaking_network.npz")
    with path.open("rb") as file, np.load(file) as kept:
        return SpeakingNetwork({part: kept[part].astype(np.float32) for part in kept.files})
