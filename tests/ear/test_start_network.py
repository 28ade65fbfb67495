"""The network that says how notes started, whatever its weights say."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.ear.segments.seam_patch import ROWS, STEPS
from trainer.ear.segments.start_network import (
    BESIDE,
    FACTS,
    KINDS,
    LAYERS,
    REACH,
    Values,
    start_network,
)

FURTHEST = LAYERS * max(REACH, *BESIDE)
"""So far away a seam can still be heard of."""


def _looks(count: int) -> Values:
    dice = np.random.default_rng(count)
    patches = dice.uniform(-1.0, 0.0, (count, ROWS, STEPS)).astype(np.float32)
    facts = dice.uniform(0.0, 1.0, (count, FACTS)).astype(np.float32)
    network = start_network()
    return network.looked_at(network.seen(patches), facts)


@pytest.mark.parametrize("count", [1, 2, REACH, 60])
def test_chances_of_a_take_of_any_length_add_up(count: int) -> None:
    possible = np.ones((count, len(KINDS)), bool)
    possible[0, 0] = False
    chances = start_network().chances(_looks(count), possible)
    assert chances.shape == (count, len(KINDS))
    assert np.allclose(chances.sum(axis=1), 1.0)
    assert chances[0, 0] == 0.0


def test_what_is_played_long_before_or_after_changes_nothing() -> None:
    looks = _looks(2 * FURTHEST)
    possible = np.ones((len(looks), len(KINDS)), bool)
    whole = start_network().chances(looks, possible)
    looks[-1] += 1.0
    told = np.abs(start_network().chances(looks, possible) - whole).max(axis=1)
    assert told[: -FURTHEST - 1].max() < 1e-6
    assert told[-2] > 1e-6


def test_each_place_is_looked_at_for_itself() -> None:
    together = _looks(5)
    network = start_network()
    dice = np.random.default_rng(5)
    patches = dice.uniform(-1.0, 0.0, (5, ROWS, STEPS)).astype(np.float32)
    facts = dice.uniform(0.0, 1.0, (5, FACTS)).astype(np.float32)
    alone = [
        network.looked_at(network.seen(patches[n : n + 1]), facts[n : n + 1]) for n in range(5)
    ]
    assert np.allclose(together, np.concatenate(alone), atol=1e-4)
