"""A small learned network that says, while one pitch sounds, where its note starts again.

It goes over the picture of `held_picture` in steps of 8 ms and hears a second to either side, as an
ear does: a player repeats notes in a row, a vibrato beats on, and what a room does to one gap it
does to the next. Convolutions over time that reach twice as far from layer to layer, each adding to
what the last ones saw (Oord et al. 2016, 'WaveNet: a generative model for raw audio', after He et
al. 2016, 'Deep residual learning for image recognition', CVPR). It is told nothing of what was
asked. Its odds are those of a highest place among its neighbours, when a stroke is as likely as
none, fitted on voices and rooms kept apart (Platt 1999, 'Probabilistic outputs for support vector
machines'). `tests/bench/ear/fit` makes the sound it was fitted on, fits it and writes its weights.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from trainer.ear.segments.held_picture import Picture
from trainer.ear.segments.network_layers import Values, rising, with_edges

AGAIN, BEGINNING = "again", "beginning"
"""What it was fitted for: where a note starts again inside a sound, in rooms; and where a sound
itself begins, seen from before its pitch wins through, in halls too."""
STRIDE = 2
"""Steps of the picture from one of its places to the next."""
REACHES = (1, 2, 4, 8, 16, 32, 64)
"""Of the layers' outer taps, in places."""


@dataclass(frozen=True)
class AgainNetwork:
    """The weights, float32; each layer's of shape (taps · units in, units out)."""

    weights: dict[str, Values]

    def log_odds(self, picture: Picture, midi: float) -> Values:
        """That the note starts again at each place of a picture, shape (steps / 2,)."""
        told = np.full((1, picture.shape[1]), (midi - 80) / 12, np.float32)
        seen = np.concatenate([picture, told]).T
        seen = rising(self._convolved(seen, "first", 5, stride=STRIDE))
        seen = rising(self._convolved(seen, "second", 5))
        for number, reach in enumerate(REACHES):
            seen = seen + rising(self._convolved(seen, f"layer{number}", 3, reach))
        said = (seen @ self.weights["out"] + self.weights["out_bias"])[:, 0]
        return np.asarray(said * self.weights["slope"] + self.weights["offset"], np.float32)

    def _convolved(
        self, seen: Values, layer: str, taps: int, reach: int = 1, stride: int = 1
    ) -> Values:
        """Taps over time, zeros beyond the ends; shape (places, units)."""
        edge = reach * (taps // 2)
        padded = with_edges(seen, edge)
        count = -(-len(seen) // stride)
        ends = [tap * reach + stride * (count - 1) + 1 for tap in range(taps)]
        parts = [padded[tap * reach : end : stride] for tap, end in enumerate(ends)]
        return np.concatenate(parts, axis=1) @ self.weights[layer] + self.weights[f"{layer}_bias"]


@cache
def fitted(name: str) -> AgainNetwork:
    """The weights fitted for one of the two questions."""
    path = files("trainer.ear.segments").joinpath(f"{name}_network.npz")
    with path.open("rb") as file, np.load(file) as kept:
        return AgainNetwork({part: kept[part].astype(np.float32) for part in kept.files})
