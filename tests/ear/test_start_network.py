"""The network that says how notes started, whatever its weights say."""

from __future__ import annotations

import numpy as np
import pytest

from tests.ear.made_flute import as_expected
from trainer.ear.hear import hear
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
from trainer.music.note import Start
from trainer.music.tuning import Tuning

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


@pytest.mark.parametrize("gap_s", [0.005, 0.025])
def test_where_the_air_stops_between_steps_nothing_is_called_slurred(gap_s: float) -> None:
    """Tones that fade in within 20 ms without a stroke: no flute that was fitted on begins so."""
    rate, midis = 44100, (74, 76, 78, 79, 81, 83, 81, 79, 78, 76, 74)
    time_s = np.arange(round(0.25 * rate)) / rate
    edge = np.minimum(1, time_s / 0.02) ** 2 * np.minimum(1, time_s[::-1] / 0.018) ** 2
    parts = [np.zeros(rate // 2)]
    for midi in midis:
        turn = 2 * np.pi * 440 * 2 ** ((midi - 69) / 12) * time_s
        waves = (a * np.sin(n * turn) for n, a in enumerate((0.1, 0.06, 0.03), start=1))
        parts += [edge * sum(waves), np.zeros(round(gap_s * rate))]
    sound = np.concatenate([*parts, np.zeros(rate // 2)])
    sound += 1e-4 * np.random.default_rng(1).standard_normal(sound.size)
    take = hear(sound.astype(np.float32), rate, as_expected(midis), 120, Tuning(), None)
    assert all(note.midi is not None for note in take.expected_notes)
    assert Start.SLURRED not in {note.start for note in take.notes}
