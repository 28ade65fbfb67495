"""Where a note stands while others ring into it.

Truth: tones of known frequency, added up.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.ear.steady_tones import RATE, Sound, steady
from trainer.ear.live.own_partials import WINDOW_S, own_cents
from trainer.music.tuning import Tuning

DULL = (1.0, 0.5, 0.2)


def middle(sound: Sound) -> np.ndarray:
    """WINDOW_S of a sound that is longer."""
    size = round(WINDOW_S * RATE)
    first = (sound.size - size) // 2
    return sound[first : first + size].astype(np.float32)


@pytest.mark.parametrize("midi", [60, 67, 74, 84, 93])
@pytest.mark.parametrize("cents", [-30.0, -8.0, 0.0, 20.0])
def test_a_note_alone_stands_where_it_stands(midi: int, cents: float) -> None:
    window = middle(steady(midi + cents / 100, 0.2))
    assert own_cents(window, RATE, Tuning(), midi, ()) == pytest.approx(cents, abs=3.0)


@pytest.mark.parametrize(("before", "midi"), [(76, 79), (79, 76), (71, 64), (86, 79), (72, 74)])
def test_a_note_as_loud_that_rings_beside_it_does_not_pull_it(before: int, midi: int) -> None:
    window = middle(steady(before, 0.2, DULL) + steady(midi + 0.12, 0.2, DULL))
    assert own_cents(window, RATE, Tuning(), midi, (before,)) == pytest.approx(12.0, abs=6.0)


def test_the_octave_above_is_not_the_note() -> None:
    assert own_cents(middle(steady(79, 0.2)), RATE, Tuning(), 67, ()) is None


def test_what_rings_is_not_the_note() -> None:
    """An E5 has every partial that the E6 has."""
    assert own_cents(middle(steady(76, 0.2)), RATE, Tuning(), 88, (76,)) is None
    assert own_cents(middle(steady(76, 0.2)), RATE, Tuning(), 81, (76,)) is None


def test_silence_has_no_note() -> None:
    assert own_cents(np.zeros(round(WINDOW_S * RATE), np.float32), RATE, Tuning(), 69, ()) is None
