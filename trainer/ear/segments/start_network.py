"""A small learned network that says how notes started, from what stands at their seams.

For each seam it sees the picture of `seam_patch`, the measured signs of `transition` and the
pitches; then each seam among its neighbours, as an ear does: a player keeps an articulation for a
stretch, a pattern comes back, and what a room does to one gap it does to the next. Each seam asks
those around it for what is like or unlike itself (attention: Vaswani et al. 2017, 'Attention is all
you need', NIPS 30), twice over. It is told nothing of what was asked. Convolutions over time, then
a layer over seams (LeCun & Bengio 1995, 'Convolutional networks for images, speech, and time
series'); its outputs are chances after their temperature was fitted on voices kept apart (Guo,
Pleiss, Sun & Weinberger 2017, 'On calibration of modern neural networks', ICML).
`tests/bench/ear/fit` makes the sound it was fitted on, fits it and writes its weights.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from trainer.ear.segments.network_layers import Values, rising, with_edges
from trainer.music.note import Start

KINDS = (Start.SLURRED, Start.LEGATO_TONGUE, Start.TONGUED, Start.BREATH)
FACTS = 16
"""Numbers given beside the patch."""
STRIDES = (2, 2, 2, 1)
"""Of the convolutions."""
BESIDE = (1, -1, 2, -2)
"""Neighbours heard each for itself."""
REACH = 12
"""Neighbours on either side that a seam asks."""
LAYERS, HEADS = 2, 4
"""How often it asks, and for how many things at once."""
_LONG_S = 0.5
"""Longer notes are all the same to it."""


def seam_facts(
    signs: list[float],
    joined: bool,
    before_midi: float,
    after_midi: float,
    before_s: float,
    after_s: float,
) -> Values:
    """What is told of a seam; lengths of the sounds before and after in seconds."""
    leap = after_midi - before_midi if joined else 0.0
    place = [float(joined), leap / 12, (after_midi - 80) / 12]
    lengths = [min(before_s, _LONG_S) / 0.25 if joined else 0.0, min(after_s, _LONG_S) / 0.25]
    return np.array([*signs, *place, *lengths], np.float32)


@dataclass(frozen=True)
class StartNetwork:
    """The weights, float32; `conv…` of shape (taps · rows in, rows out), the rest (in, out)."""

    weights: dict[str, Values]

    def seen(self, patches: Values) -> Values:
        """What is seen in patches of shape (places, rows, steps); shape (places, units)."""
        seen = np.ascontiguousarray(patches.transpose(0, 2, 1))
        for number, stride in enumerate(STRIDES):
            seen = rising(self._convolved(seen, f"conv{number}", stride))
        return seen.reshape(len(seen), -1)

    def looked_at(self, seen: Values, facts: Values) -> Values:
        """What is seen at each place, weighed with what is told of it; shape (places, units)."""
        return rising(self._through(np.concatenate([seen, facts], axis=1), "look"))

    def chances(self, looks: Values, possible: NDArray[np.bool_]) -> NDArray[np.float64]:
        """Of each of KINDS for the seams of a take in their order, shape (seams, kinds); what is
        not possible, of the same shape, has none."""
        among = self._through(looks, "near")
        for layer in range(LAYERS):
            among = among + self._told_by_others(among, f"layer{layer}")
        units = rising(among)
        return self._shares(self._through(looks, "alone") + self._through(units, "kinds"), possible)

    def chances_alone(self, looks: Values, possible: NDArray[np.bool_]) -> NDArray[np.float64]:
        """The same of each seam by itself, whatever stands around it, shape (seams, kinds)."""
        return self._shares(self._through(looks, "alone"), possible)

    def _shares(self, values: Values, possible: NDArray[np.bool_]) -> NDArray[np.float64]:
        logs = values.astype(np.float64) / float(self.weights["temperature"])
        logs[~possible] = -np.inf
        logs -= logs.max(axis=1, keepdims=True)
        chances = np.exp(logs)
        return np.asarray(chances / chances.sum(axis=1, keepdims=True))

    def _told_by_others(self, among: Values, layer: str) -> Values:
        """What each seam hears of those around it; shape (seams, units)."""
        count, units = among.shape
        asked, keys, told = np.split(self._through(among, f"{layer}_asks"), 3, axis=1)
        places = np.arange(count)[:, None] + np.arange(-REACH, REACH + 1)
        there = (places >= 0) & (places < count)
        places = np.clip(places, 0, count - 1)
        parts = HEADS, units // HEADS
        agree = np.einsum(
            "nhu,nkhu->nhk", asked.reshape(count, *parts), keys[places].reshape(count, -1, *parts)
        )
        agree = agree / np.float32(np.sqrt(parts[1])) + self.weights[f"{layer}_far"]
        agree = np.where(there[:, None], agree, np.float32(-1e9))
        agree = np.exp(agree - agree.max(axis=2, keepdims=True))
        agree /= agree.sum(axis=2, keepdims=True)
        heard = np.einsum("nhk,nkhu->nhu", agree, told[places].reshape(count, -1, *parts))
        beside = [_shifted(among, by) for by in BESIDE]
        whole = np.concatenate([among, heard.reshape(count, units), *beside], axis=1)
        return self._through(rising(self._through(whole, f"{layer}_mix")), f"{layer}_out")

    def _through(self, values: Values, layer: str) -> Values:
        return values @ self.weights[layer] + self.weights[f"{layer}_bias"]

    def _convolved(self, seen: Values, layer: str, stride: int) -> Values:
        """Five taps over time, zeros beyond the ends; shape (places, steps / stride, rows)."""
        padded = with_edges(seen, 2)
        steps = seen.shape[1] // stride
        taps = [padded[:, tap : tap + stride * steps : stride] for tap in range(5)]
        return self._through(np.concatenate(taps, axis=2), layer)


def _shifted(values: Values, by: int) -> Values:
    """Each row as it stands `by` places later; zeros beyond the ends."""
    moved = np.zeros_like(values)
    if by > 0:
        moved[by:] = values[:-by]
    else:
        moved[:by] = values[-by:]
    return moved


@cache
def start_network() -> StartNetwork:
    """The network as fitted."""
    path = files("trainer.ear.segments").joinpath("start_network.npz")
    with path.open("rb") as file, np.load(file) as kept:
        return StartNetwork({part: kept[part].astype(np.float32) for part in kept.files})
