"""Where a note stands while others ring into it.

Truth: tones of known frequency, added up.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.ear.steady_tones import RATE, Sound, steady
from trainer.ear.live.own_partials import WINDOW_S, has_begun, own_cents
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


def begun(now: Sound, earlier: Sound, midi: int, others: tuple[float, ...]) -> bool:
    return has_begun(middle(now), middle(earlier), RATE, Tuning(), midi, others)


@pytest.mark.parametrize(("before", "midi"), [(86, 79), (71, 64), (79, 86), (76, 79)])
def test_a_note_begins_while_the_one_before_rings(before: int, midi: int) -> None:
    rings = steady(before, 0.2, DULL)
    assert begun(rings + steady(midi + 0.1, 0.2, DULL), rings, midi, (before,))
    assert not begun(rings, rings, midi, (before,))


def test_rumble_is_no_note_beside_it() -> None:
    """Of 30 Hz, steps and traffic, as loud as the notes."""
    rings, rumble = steady(71, 0.2, DULL), steady(22.5, 0.2, (1.0,))
    assert begun(rings + steady(64, 0.2, DULL) + rumble, rings + rumble, 64, (71,))


def test_what_sounded_already_does_not_begin() -> None:
    both = steady(86, 0.2, DULL) + steady(79, 0.2, DULL)
    assert not begun(both, both, 79, (86,))


@pytest.mark.parametrize("wrong", [67, 72, 78, 80, 91])
def test_another_note_than_the_one_due_has_lines_of_its_own(wrong: int) -> None:
    """Of G5 after D6: its octaves, its neighbours, and C5; G4 has all lines of both."""
    rings = steady(86, 0.2, DULL)
    assert not begun(rings + steady(wrong, 0.2), rings, 79, (86,))
    assert not begun(steady(wrong, 0.2), rings, 79, (86,))


def test_silence_has_no_note() -> None:
    assert own_cents(np.zeros(round(WINDOW_S * RATE), np.float32), RATE, Tuning(), 69, ()) is None


@pytest.mark.parametrize("midi", [60, 74, 91, 96])
def test_a_narrow_microphone_has_fewer_partials(midi: int) -> None:
    """A headset's at 8 kHz: half of that ends the spectrum (Nyquist)."""
    rate = 8000
    dice = np.random.default_rng(midi)
    window = dice.standard_normal(round(WINDOW_S * rate)).astype(np.float32)
    for others in ((), (midi - 2,)):
        own_cents(window, rate, Tuning(), midi, others)
        has_begun(window, window, rate, Tuning(), midi, others)
    time_s = np.arange(window.size) / rate
    tone = np.sin(2 * np.pi * Tuning().midi_hz(midi + 0.1) * time_s).astype(np.float32)
    assert own_cents(tone, rate, Tuning(), midi, ()) == pytest.approx(10.0, abs=3.0)
