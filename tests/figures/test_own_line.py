"""The player's own line."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.figures.own_line import own_line

BEATS = np.arange(44) / 4
BEAT_S = 60 / 72


def test_a_constant_lead_is_no_error() -> None:
    line = own_line(BEATS, BEATS * BEAT_S - 0.040)
    assert line is not None
    assert np.abs(line.off_s).max() < 1e-6
    assert line.beat_s == pytest.approx(BEAT_S)


def test_single_late_notes_stand_out_and_do_not_draw_the_line() -> None:
    onsets = BEATS * BEAT_S + np.random.default_rng(1).normal(0, 0.006, len(BEATS))
    onsets[[9, 30]] += 0.080
    line = own_line(BEATS, onsets)
    assert line is not None
    assert line.off_s[[9, 30]] == pytest.approx([0.08, 0.08], abs=0.025)
    assert line.spread_s < 0.010


@pytest.mark.parametrize("change", [-0.09, 0.0, 0.06])
def test_a_changing_tempo_is_measured_and_is_not_unevenness(change: float) -> None:
    # tempo 1 + change·x over x from 0 to 1: dt/dx = 1 / (1 + change·x)
    whole_s = float(BEATS[-1] * BEAT_S)
    x = BEATS / BEATS[-1]
    onsets = whole_s * (np.log1p(change * x) / change if change else x)
    line = own_line(BEATS, onsets)
    assert line is not None
    assert line.tempo_change == pytest.approx(change, abs=0.005)
    assert line.spread_s < 0.004


def test_the_stated_error_is_the_error() -> None:
    random = np.random.default_rng(2)
    lines = [
        own_line(BEATS, BEATS * BEAT_S + random.normal(0, 0.010, len(BEATS))) for _ in range(200)
    ]
    changes = [line.tempo_change for line in lines if line is not None]
    stated = np.mean([line.tempo_change_error for line in lines if line is not None])
    assert float(np.std([c for c in changes if c is not None])) == pytest.approx(stated, rel=0.35)


def test_three_onsets_give_no_line() -> None:
    assert own_line([0, 1, 2], [0.0, 1.0, 2.0]) is None


def test_notes_left_out_bend_no_line() -> None:
    """A bar of eight eighths is passed over: what follows comes a bar too early."""
    beats = np.delete(np.arange(25) / 2, range(8, 16))
    onsets = np.arange(17) / 2 * BEAT_S + np.random.default_rng(2).normal(0, 0.006, 17)
    line = own_line(beats, onsets, [8.0])
    assert line is not None
    assert line.beat_s == pytest.approx(BEAT_S, rel=0.02)
    assert line.spread_s < 0.012


@pytest.mark.parametrize("breath_beats", [[], [8.0]])
def test_a_short_line_lies_through_all_of_its_notes_not_through_the_middle_one(
    breath_beats: list[float],
) -> None:
    """The fourth of seven comes 80 ms late: that one is off, and the tempo is the others'. A line
    through the middle of a hall's onsets was called 3 % fast (our own measurement)."""
    beats = np.array([0.0, 2.0, 3.0, 4.0, 10.0, 11.0, 12.0])
    onsets = beats * BEAT_S + np.array([0, 0, 0, 0.08, 0, 0, 0])
    line = own_line(beats, onsets, breath_beats)
    assert line is not None
    assert line.off_s == pytest.approx([0, 0, 0, 0.08, 0, 0, 0], abs=0.012)
    assert line.beat_s == pytest.approx(BEAT_S, rel=0.005)
