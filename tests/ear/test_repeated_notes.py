"""One note held and one note struck again: neither may be taken for the other."""

from __future__ import annotations

import numpy as np
import pytest

from tests.ear.made_flute import as_expected
from tests.ear.test_spurious_tones import _in_room, _tone
from trainer.ear.alignment.repeated_notes import repeat_groups
from trainer.ear.analysis.order_statistics import slope
from trainer.ear.hear import hear
from trainer.ear.heard import State
from trainer.ear.segments.note_segments import LIKELY, again_chances
from trainer.music.tuning import Tuning

RATE = 44100


def test_one_doubtful_dip_is_no_start() -> None:
    assert again_chances(np.array([1.0]))[0] < LIKELY
    assert again_chances(np.array([4.0]))[0] > LIKELY


def test_a_doubtful_dip_among_strokes_is_one_and_among_sways_is_none() -> None:
    among_strokes = again_chances(np.array([4.0] * 8 + [0.0]))
    among_sways = again_chances(np.array([-5.0] * 8 + [2.0]))
    assert among_strokes[-1] > LIKELY
    assert among_sways[-1] < LIKELY


def test_doubtful_dips_do_not_bear_each_other_out() -> None:
    assert (again_chances(np.full(12, -0.5)) < LIKELY).all()


def test_without_a_dip_there_is_no_chance() -> None:
    assert again_chances(np.zeros(0)).size == 0


def test_repeats_are_told_by_pitch() -> None:
    groups = repeat_groups(np.array([72.0, 74.0, 74.1, 74.0, 72.0]))
    assert groups.tolist() == [0, 1, 1, 1, 2]


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_one_held_note_is_not_taken_for_two_that_were_asked(seed: int) -> None:
    sound = _in_room(np.pad(0.5 * _tone(79, 1.2), (round(0.4 * RATE), RATE)), 0.4, -3, seed)
    dice = np.random.default_rng(seed)
    noisy = (sound + 10 ** (-66 / 20) * dice.standard_normal(sound.size)).astype(np.float32)
    take = hear(noisy, RATE, as_expected([79, 79]), 100, Tuning(), None)
    assert [note.state for note in take.expected_notes].count(State.PLAYED) == 1


def test_the_slope_is_that_of_a_straight_line_through_all() -> None:
    """numpy's polyfit as the second opinion."""
    track = np.random.default_rng(3).standard_normal(40)
    assert slope(track, 0.01) == pytest.approx(np.polyfit(0.01 * np.arange(40), track, 1)[0])
