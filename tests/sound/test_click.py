"""Clicks stand on the frame nearest their exact time, and leave the flute room."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from trainer.sound.click import PEAKS, Tap, beat_frame, click, click_track

RATE = 48000


@pytest.mark.parametrize("tempo_bpm", [133, 60, 97, 208])
@pytest.mark.parametrize("rate", [48000, 44100])
def test_an_hour_of_clicks_does_not_drift(tempo_bpm: int, rate: int) -> None:
    beats = tempo_bpm * 60
    track = click_track(1234, beats, 4, float(tempo_bpm), 4, rate)
    assert len(track) == beats + 4
    for (frame, _), beat in zip(track, range(-4, beats), strict=True):
        exact = 1234 + Fraction(60 * rate * beat, tempo_bpm)
        assert abs(frame - exact) <= Fraction(1, 2)


def test_the_count_in_and_the_bars_are_accented() -> None:
    track = click_track(100_000, 6, 3, 60.0, 4, RATE)
    accent = click(Tap.ACCENT, RATE)
    accented = [sound.shape == accent.shape and np.array_equal(sound, accent) for _, sound in track]
    assert [frame for frame, _ in track][4] == 100_000
    #                  -4     -3    -2     -1     0      1      2     3     4      5
    assert accented == [False, True, False, False, True, False, False, True, False, False]


def test_subdivisions_come_between_the_beats_but_not_in_the_count_in() -> None:
    track = click_track(48_000, 2, 4, 60.0, 1, RATE, subdivisions=3)
    assert [frame for frame, _ in track] == [0, 48_000, 64_000, 80_000, 96_000, 112_000, 128_000]


@pytest.mark.parametrize("tap", list(Tap))
def test_a_tap_is_soft_short_and_starts_at_once(tap: Tap) -> None:
    sound = click(tap, RATE)
    assert sound.dtype == np.float32
    assert np.abs(sound).max() == pytest.approx(PEAKS[tap], rel=1e-6)
    assert np.abs(sound).max() <= 0.25
    assert sound.size <= 0.03 * RATE
    assert np.argmax(np.abs(sound)) < 0.002 * RATE
    assert abs(sound[0]) < 1e-6
    assert abs(sound[-1]) < 1e-4


@pytest.mark.parametrize("tap", list(Tap))
def test_a_tap_lies_above_the_strong_flute_partials(tap: Tap) -> None:
    """C7, the highest fundamental of the written range, is 2093 Hz (ISO 16:1975 A4 = 440 Hz).

    From D5 up the flute's second harmonic is 10 to 40 dB below its first (SHARC, G. Sandell).
    """
    spectrum = np.abs(np.fft.rfft(click(tap, RATE), 8192)) ** 2
    hz = np.fft.rfftfreq(8192, 1 / RATE)
    assert spectrum[hz < 2200].sum() < 0.01 * spectrum.sum()


def test_the_gain_scales_the_click() -> None:
    np.testing.assert_allclose(click(Tap.BEAT, RATE, 0.5), 0.5 * click(Tap.BEAT, RATE), atol=1e-7)


def test_a_beat_between_beats_has_its_frame() -> None:
    assert beat_frame(10, Fraction(1, 3), 120.0, RATE) == 10 + 8000
