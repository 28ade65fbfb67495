"""What comes through a note for a moment, as a room brings it, is no note."""

from __future__ import annotations

import numpy as np
import pytest

from tests.ear.made_flute import as_expected
from trainer.ear.analysis.frames import Track
from trainer.ear.hear import hear
from trainer.ear.heard import State
from trainer.music.tuning import Tuning

RATE = 44100


def _tone(midi: int, levels: Track) -> Track:
    """Four harmonics, each half as strong as the one below it; levels: of each sample, linear."""
    turns = 2 * np.pi * Tuning().midi_hz(midi) / RATE * np.arange(levels.size)
    return np.asarray(levels * sum(0.1 / 2**k * np.sin((k + 1) * turns) for k in range(4)))


@pytest.mark.parametrize("anew", [False, True])
def test_a_note_that_comes_through_the_next_one_was_not_played_again(anew: bool) -> None:
    """G5 rings under D6 and beats by 8 dB, D6 by 14: in a live room either does so with its own
    echoes. Or it is struck anew, when it has long died away."""
    time_s = np.arange(round(1.4 * RATE)) / RATE - 0.3
    again = (time_s > 0.42) & (time_s < 0.52)
    rings = np.where(again, 0.5, 0.0 if anew else 0.2 * (time_s < 0.65))
    first = _tone(79, (time_s > 0) * np.where(time_s < 0.3, 1.0, rings))
    second = _tone(86, np.where(again, 0.1, 0.5) * ((time_s > 0.3) & (time_s < 0.65)))
    third = _tone(89, 0.5 * ((time_s > 0.65) & (time_s < 0.95)))
    noise = 1e-4 * np.random.default_rng(2).standard_normal(time_s.size)
    sound = (first + second + third + noise).astype(np.float32)
    take = hear(sound, RATE, as_expected([79, 86, 89]), 50, Tuning(), 0.3)
    assert bool(take.count(State.EXTRA)) == anew


@pytest.mark.parametrize(("again_db", "extras"), [(3.0, 2), (-6.0, 1)])
def test_what_is_louder_than_the_note_it_would_ring_on_from_was_played(
    again_db: float, extras: int
) -> None:
    """An ornament nobody wrote, A5 B5 A5: the second A5 begins while the first still rings 9 dB
    under it, as in a hall, and never falls silent; what rings on is softer than what was played."""
    time_s = np.arange(round(1.6 * RATE)) / RATE - 0.3
    loud = np.where(time_s < 0.2, 1.0, np.where(time_s < 0.3, 0.35, 10 ** (again_db / 20)))
    first = _tone(81, loud * ((time_s > 0) & (time_s < 0.7)))
    second = _tone(83, np.where(time_s < 0.3, 1.0, 0.1) * ((time_s > 0.2) & (time_s < 0.7)))
    third = _tone(86, ((time_s > 0.7) & (time_s < 1.2)).astype(float))
    noise = 1e-4 * np.random.default_rng(2).standard_normal(time_s.size)
    sound = (first + second + third + noise).astype(np.float32)
    take = hear(sound, RATE, as_expected([81, 86]), 60, Tuning(), 0.3)
    assert take.count(State.EXTRA) == extras
