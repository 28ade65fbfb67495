"""What partials have in common, on sums of sines whose frequencies are written down."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.ear.analysis.partials import agreed_hz

RATE = 44_100
E4_HZ = 329.63
LEVELS_DB = (0.0, -14.0, -14.0, -11.0, -20.0, -35.0)
"""Of the partials of a low note whose fundamental the room has not swallowed."""


def tone(cents: tuple[float, ...], lasts_s: float = 0.12, swallowed_db: float = 0.0) -> np.ndarray:
    """Partials each so many cents off, over noise 60 dB down, the first one softer."""
    dice = np.random.default_rng(3)
    times_s = np.arange(round(lasts_s * RATE)) / RATE
    sound = 0.0001 * dice.standard_normal(times_s.size)
    for order, (off, level_db) in enumerate(zip(cents, LEVELS_DB, strict=True), start=1):
        level = 0.1 * 10 ** ((level_db - swallowed_db * (order == 1)) / 20)
        hz = order * E4_HZ * 2 ** (off / 1200)
        sound += level * np.sin(2 * np.pi * hz * times_s + dice.uniform(0, 2 * np.pi))
    return sound


def off_cents(sound: np.ndarray, near_cents: float) -> float:
    found = agreed_hz(sound, RATE, E4_HZ * 2 ** (near_cents / 1200))
    return float(1200 * np.log2(found / E4_HZ))


@pytest.mark.parametrize("lasts_s", [0.1, 0.16, 0.3])
def test_a_fundamental_that_the_room_has_drawn_off_is_outvoted(lasts_s: float) -> None:
    """As measured on recorded notes in a shoebox of 0.4 s: the fundamental 28 cents sharp, the
    others -9, -5, +10, +5 and -6 cents off."""
    drawn = tone((28.0, -9.0, -5.0, 10.0, 5.0, -6.0), lasts_s, swallowed_db=2.0)
    assert abs(off_cents(drawn, 22.0)) < 5.0


def test_a_fit_that_the_partials_bear_out_stands() -> None:
    """A note that is really sharp stays so, to the last digit of the fit."""
    assert off_cents(tone((25.0,) * 6), 25.0) == pytest.approx(25.0, abs=1e-9)


def test_partials_that_differ_by_a_little_leave_the_fit_alone() -> None:
    assert off_cents(tone((2.0, 6.0, 4.0, 5.0, 4.0, 0.0)), 2.0) == pytest.approx(2.0, abs=1e-9)


def test_a_whole_note_in_the_wrong_place_is_no_reason() -> None:
    """Two partials alone have nothing in common that could outvote the fit."""
    times_s = np.arange(round(0.15 * RATE)) / RATE
    two = np.sin(2 * np.pi * 1600 * times_s) + 0.5 * np.sin(2 * np.pi * 3260 * times_s)
    assert agreed_hz(two, RATE, 1600.0) == 1600.0
