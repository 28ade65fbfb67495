"""Clicks stand on the frame nearest their exact time, and leave the flute room."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from trainer.music.bars import Bars, Meter
from trainer.music.pulse import ClickPart, Pace, Timbre
from trainer.sound.click import PEAKS, Tap, beat_frame, click, click_track

RATE = 48000
LOWEST_FLUTE_HZ = 246.9
"""B3 on a flute with a B foot."""


def steady(tempo_bpm: float) -> Pace:
    return Pace(tempo_bpm, tempo_bpm, 16)


@pytest.mark.parametrize("tempo_bpm", [133, 60, 97, 208])
@pytest.mark.parametrize("rate", [48000, 44100])
def test_an_hour_of_clicks_does_not_drift(tempo_bpm: int, rate: int) -> None:
    beats = tempo_bpm * 60
    track = click_track(1234, beats, Bars(Meter(4)), steady(tempo_bpm), 4, rate)
    assert len(track) == beats + 4
    for (frame, _), beat in zip(track, range(-4, beats), strict=True):
        exact = 1234 + Fraction(60 * rate * beat, tempo_bpm)
        assert abs(frame - exact) <= Fraction(1, 2)


def test_the_count_in_and_the_bars_are_accented() -> None:
    track = click_track(100_000, 6, Bars(Meter(3)), steady(60), 4, RATE)
    accent = click(Tap.ACCENT, RATE)
    accented = [sound.shape == accent.shape and np.array_equal(sound, accent) for _, sound in track]
    assert [frame for frame, _ in track][4] == 100_000
    #                  -4     -3    -2     -1     0      1      2     3     4      5
    assert accented == [False, True, False, False, True, False, False, True, False, False]


def test_subdivisions_come_between_the_beats_but_not_in_the_count_in() -> None:
    track = click_track(48_000, 2, Bars(Meter(4)), steady(60), 1, RATE, ClickPart(subdivisions=3))
    assert [frame for frame, _ in track] == [0, 48_000, 64_000, 80_000, 96_000, 112_000, 128_000]


def test_the_click_drops_out_for_whole_bars() -> None:
    part = ClickPart(sounding_bars=2, silent_bars=1)
    track = click_track(0, 12 * 3, Bars(Meter(3)), steady(60), 3, RATE, part)
    heard = [frame // RATE for frame, _ in track]
    assert heard == [beat for beat in range(-3, 36) if beat < 0 or beat // 3 % 3 < 2]


@pytest.mark.parametrize(("from_bpm", "to_bpm"), [(60.0, 90.0), (120.0, 72.0)])
def test_a_changing_tempo_changes_evenly_from_beat_to_beat(from_bpm: float, to_bpm: float) -> None:
    """Against the sum of 60/bpm over small steps, and to the sample."""
    beats, steps = 32, 10_000
    track = click_track(500, beats + 4, Bars(Meter(4)), Pace(from_bpm, to_bpm, beats), 2, RATE)
    tempo = from_bpm + (to_bpm - from_bpm) * (np.arange(beats * steps) + 0.5) / (beats * steps)
    passed_s = np.concatenate([[0.0], np.cumsum(60.0 / tempo / steps)])
    frames = [frame for frame, _ in track]
    for beat in range(beats + 1):
        assert abs(frames[beat + 2] - 500 - passed_s[beat * steps] * RATE) <= 0.51
    assert frames[2] - frames[1] == round(60 / from_bpm * RATE)
    assert frames[-1] - frames[-2] == pytest.approx(60 / to_bpm * RATE, abs=1)


@pytest.mark.parametrize("timbre", list(Timbre))
@pytest.mark.parametrize("tap", list(Tap))
def test_a_tap_is_soft_short_and_starts_at_once(tap: Tap, timbre: Timbre) -> None:
    sound = click(tap, RATE, timbre=timbre)
    assert sound.dtype == np.float32
    assert np.abs(sound).max() == pytest.approx(PEAKS[tap], rel=1e-6)
    assert np.abs(sound).max() <= 0.25
    assert sound.size <= 0.09 * RATE
    assert np.argmax(np.abs(sound)) < 0.006 * RATE
    assert abs(sound[0]) < 1e-6
    assert abs(sound[-1]) < 1e-4


@pytest.mark.parametrize("timbre", list(Timbre))
@pytest.mark.parametrize("tap", list(Tap))
def test_a_tap_lies_outside_the_strong_flute_partials(tap: Tap, timbre: Timbre) -> None:
    """C7, the highest fundamental of the written range, is 2093 Hz (ISO 16:1975 A4 = 440 Hz).

    From D5 up the flute's second harmonic is 10 to 40 dB below its first (SHARC, G. Sandell).
    """
    spectrum = np.abs(np.fft.rfft(click(tap, RATE, timbre=timbre), 8192)) ** 2
    hz = np.fft.rfftfreq(8192, 1 / RATE)
    among = (hz > LOWEST_FLUTE_HZ) & (hz < 2200)
    assert spectrum[among].sum() < 0.02 * spectrum.sum()


def test_the_level_of_the_click_is_its_own() -> None:
    loud = click_track(0, 1, Bars(Meter(4)), steady(60), 0, RATE, ClickPart(level_db=-6.0))[0][1]
    assert np.abs(loud).max() == pytest.approx(PEAKS[Tap.ACCENT] * 10 ** (-6 / 20), rel=1e-6)


def test_the_gain_scales_the_click() -> None:
    np.testing.assert_allclose(click(Tap.BEAT, RATE, 0.5), 0.5 * click(Tap.BEAT, RATE), atol=1e-7)


def test_a_beat_between_beats_has_its_frame() -> None:
    assert beat_frame(10, Fraction(1, 3), 120.0, RATE) == 10 + 8000
