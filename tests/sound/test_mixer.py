"""Scheduled sounds land on their frames, whatever the blocks."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.sound.mixer import FADE_FRAMES, FADE_LEAD_FRAMES, Mixer
from trainer.sound.port import Samples


def filled(mixer: Mixer, blocks: list[int], first: int = 0) -> Samples:
    out = np.empty(sum(blocks), np.float32)
    at = 0
    for frames in blocks:
        mixer.fill(out[at : at + frames], first + at)
        at += frames
    return out


@given(
    blocks=st.lists(st.integers(0, 50), min_size=1, max_size=12),
    starts=st.lists(st.integers(-30, 300), max_size=6),
)
def test_the_mix_is_the_sum_of_its_sounds(blocks: list[int], starts: list[int]) -> None:
    mixer, total = Mixer(), sum(blocks)
    expected = np.zeros(total + 700, np.float32)
    for number, start in enumerate(starts):
        sound = np.full(20, 0.01 * (number + 1), np.float32)
        mixer.play(sound, start)
        expected[330 + start : 350 + start] += sound
    np.testing.assert_allclose(filled(mixer, blocks), expected[330 : 330 + total], atol=1e-6)


def test_what_is_past_is_cut_off() -> None:
    mixer = Mixer()
    filled(mixer, [100])
    mixer.play(np.linspace(0.1, 1.0, 10, dtype=np.float32), 95)
    np.testing.assert_allclose(filled(mixer, [10], 100)[:6], [0.6, 0.7, 0.8, 0.9, 1.0, 0.0])


def test_hush_forgets_what_has_not_begun() -> None:
    mixer = Mixer()
    for start in (10, 20, 30):
        mixer.play(np.full(5, 0.5, np.float32), start)
    mixer.hush(20)
    assert np.flatnonzero(filled(mixer, [40])).tolist() == [10, 11, 12, 13, 14]


def test_hush_fades_what_already_sounds_without_a_crack() -> None:
    mixer = Mixer()
    mixer.play(np.full(100_000, 0.5, np.float32), 0)
    filled(mixer, [480, 480])
    mixer.hush(0)
    after = filled(mixer, [480] * 8, 960)
    assert (after[:FADE_LEAD_FRAMES] == 0.5).all()
    assert not after[FADE_LEAD_FRAMES + FADE_FRAMES :].any()
    assert np.abs(np.diff(after)).max() < 0.01


def test_hush_leaves_what_began_earlier() -> None:
    mixer = Mixer()
    mixer.play(np.full(5000, 0.5, np.float32), 0)
    filled(mixer, [100])
    mixer.hush(50)
    assert (filled(mixer, [4900], 100) == 0.5).all()


def test_nothing_louder_than_full_scale_goes_out() -> None:
    mixer = Mixer()
    for _ in range(5):
        mixer.play(np.full(10, 0.6, np.float32), 0)
    assert filled(mixer, [10]).max() == 1.0


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_a_sound_that_is_not_a_number_never_reaches_an_ear(bad: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        Mixer().play(np.array([0.0, bad], np.float32), 0)


def test_the_caller_may_reuse_its_buffer() -> None:
    mixer, sound = Mixer(), np.full(4, 0.5, np.float32)
    mixer.play(sound, 0)
    sound.fill(0.0)
    assert (filled(mixer, [4]) == 0.5).all()


def test_sounds_that_are_over_are_let_go() -> None:
    mixer = Mixer()
    for beat in range(2000):
        mixer.play(np.zeros(480, np.float32), beat * 1000)
        filled(mixer, [1000], beat * 1000)
    assert len(mixer._scheduled) <= 2


def test_filling_makes_no_arrays() -> None:
    """A block of 2048 frames is 8 kB: what is left over or grows in between is far less."""
    mixer, out = Mixer(), np.zeros(2048, np.float32)
    mixer.play(np.full(4_000_000, 0.1, np.float32), 0)
    mixer.fill(out, 0)
    tracemalloc.start()
    for block in range(1, 1000):
        mixer.fill(out, 2048 * block)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 4000
