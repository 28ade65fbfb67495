"""The network that says where a note was struck and where it spoke, whatever its weights say."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.ear.segments.seam_patch import ROWS, STEPS
from trainer.ear.segments.speaking_network import (
    DELAYS_S,
    FACTS,
    PLACES_S,
    Spoken,
    speaking_network,
)


def test_chances_of_each_answer_add_up() -> None:
    dice = np.random.default_rng(3)
    network = speaking_network()
    seen = network.seen(dice.uniform(-1.0, 0.0, (2, ROWS, STEPS)).astype(np.float32))
    spoken = network.spoken(seen[1], dice.uniform(0.0, 1.0, FACTS).astype(np.float32))
    for chances, places in (
        (spoken.stroke, PLACES_S),
        (spoken.speaks, PLACES_S),
        (spoken.delay, DELAYS_S),
    ):
        assert chances.shape == places.shape
        assert chances.sum() == pytest.approx(1.0)


def test_a_place_is_as_sure_as_what_lies_about_it() -> None:
    """Two in three say 40 ms before the seam, a little earlier or later; the rest far from it."""
    stroke, nowhere = np.zeros(PLACES_S.size), np.full(PLACES_S.size, 1 / PLACES_S.size)
    stroke[[18, 19, 20]], stroke[38] = (0.2, 0.3, 0.2), 0.3
    delay = np.where(DELAYS_S >= 0.045, 0.1, 0.06)
    spoken = Spoken(stroke, nowhere, delay)
    assert spoken.stroke_place.at_s == pytest.approx(-0.04)
    assert spoken.stroke_place.chance == pytest.approx(0.7)
    assert spoken.speaks_place.chance < 0.2
    assert spoken.slow_chance == pytest.approx(0.7)
