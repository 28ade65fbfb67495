"""The network that says where a note starts again, whatever its weights say, and what it sees."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from trainer.ear.analysis.features import FeatureStream
from trainer.ear.analysis.frames import Samples
from trainer.ear.segments.again_network import AGAIN, REACHES, STRIDE, fitted
from trainer.ear.segments.held_picture import (
    HARMONICS,
    ROWS,
    Picture,
    held_levels_db,
    held_picture,
)
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.reattacks import likeliest_beginning
from trainer.ear.segments.seam_patch import STEP_S
from trainer.music.tuning import Tuning

RATE = 44100
HZ = 660.0
FIRST, END = 40, 340
BROKEN_STEP = 150
FURTHEST = STRIDE * (sum(REACHES) + 2) + 2
"""Steps away from which a place still hears anything."""


def _seen(tone: Samples, rate: int = RATE) -> Picture:
    return held_picture(tone.astype(np.float32), rate, FIRST, END, HZ)


def _tone(rate: int = RATE, *, breaks_at_s: float = np.inf, beat_db: float = 0.0) -> Samples:
    """A steady tone whose wave breaks off and goes on with the other sign, or that beats."""
    time_s = np.arange(2 * rate) / rate
    level = 10 ** (beat_db / 40 * np.sin(2 * np.pi * 5.5 * time_s))
    sign = np.where(time_s < breaks_at_s, 1.0, -1.0)
    return np.asarray(0.1 * level * sign * np.sin(2 * np.pi * HZ * time_s), np.float32)


@pytest.mark.parametrize("rate", [44100, 48000])
def test_a_broken_wave_is_seen_where_no_level_changes(rate: int) -> None:
    """Bello, Duxbury, Davies & Sandler 2004: the phase foretells the next frame of a steady tone
    and fails at an onset."""
    news = _seen(_tone(rate, breaks_at_s=STEP_S * (FIRST + BROKEN_STEP)), rate)[HARMONICS]
    near = slice(BROKEN_STEP - 4, BROKEN_STEP + 6)
    elsewhere = np.delete(news, np.r_[near])
    assert news[near].max() > elsewhere.max() + 20 / 80


def test_a_beat_of_the_room_breaks_no_wave() -> None:
    """10 dB deep, five and a half times a second, as a vibrato beats in a room."""
    broken = _seen(_tone(breaks_at_s=STEP_S * (FIRST + BROKEN_STEP)))[HARMONICS].max()
    assert _seen(_tone(beat_db=10.0))[HARMONICS].max() < broken - 20 / 80


def test_the_microphones_gain_does_not_matter() -> None:
    noise = 0.01 * np.random.default_rng(3).standard_normal(2 * RATE)
    tone = _tone(breaks_at_s=STEP_S * (FIRST + BROKEN_STEP)) + noise
    assert np.allclose(_seen(tone), _seen(0.05 * tone), atol=1e-3)


@pytest.mark.parametrize("steps", [31, 32, 2 * FURTHEST + 200])
def test_every_second_step_has_its_odds_and_hears_about_a_second_around(steps: int) -> None:
    picture = np.random.default_rng(steps).uniform(-1, 0, (ROWS, steps)).astype(np.float32)
    odds = fitted(AGAIN).log_odds(picture, 79.0)
    assert odds.shape == (-(-steps // STRIDE),)
    picture[:, -1] += 0.5
    changed = np.flatnonzero(fitted(AGAIN).log_odds(picture, 79.0) != odds)
    assert changed.size
    assert changed[0] * STRIDE >= steps - 1 - FURTHEST


def test_levels_measured_by_stretch_are_those_measured_at_once() -> None:
    noisy = _tone(beat_db=6.0) + 1e-3 * np.random.default_rng(1).standard_normal(2 * RATE)
    edges = [(FIRST, 64), (64, 128), (128, END)]
    parts = [held_levels_db(noisy.astype(np.float32), RATE, *edge, HZ) for edge in edges]
    whole = held_levels_db(noisy.astype(np.float32), RATE, FIRST, END, HZ)
    assert np.concatenate(parts, axis=1) == pytest.approx(whole, abs=1e-3)


@pytest.mark.parametrize(("first", "second"), [(72.0, 76.0), (86.0, 81.0)])
def test_in_a_hall_a_sound_begins_where_it_was_blown_and_not_where_its_pitch_wins(
    first: float, second: float
) -> None:
    """Two tones of eight harmonics, one after the other, in a hall of two seconds whose sound is
    as loud as the direct one: noise that dies by 60 dB in that time (ISO 3382-1)."""
    dice = np.random.default_rng(5)
    at_s, end_s = 1.3, 1.9
    time_s = np.arange(round(end_s * RATE)) / RATE
    dry = _blown(time_s, first, 0.3, at_s) + _blown(time_s, second, at_s, end_s)
    dies_s = np.arange(2 * RATE) / RATE
    tail = dice.standard_normal(dies_s.size) * 10 ** (-3 * dies_s / 2.0)
    rings = signal.fftconvolve(dry, tail / np.sqrt((tail**2).sum()))[: dry.size]
    stream = FeatureStream(RATE, Tuning())
    stream.feed((0.1 * (dry + rings)).astype(np.float32))
    wins_s = at_s + 0.12
    begins = likeliest_beginning(
        NoteSegment(second, wins_s, end_s - 0.05, -20.0), stream.finished()
    )
    assert begins is not None
    assert begins.log_odds > 0
    assert begins.at_s == pytest.approx(at_s, abs=0.025)


@pytest.mark.parametrize("from_s", [-30.0, -0.4, 1.95, 30.0])
def test_what_was_due_before_the_sound_or_after_it_is_not_heard_to_begin(from_s: float) -> None:
    """As where a player begins in the middle of what is written, or stops there."""
    stream = FeatureStream(RATE, Tuning())
    stream.feed(_tone())
    due = NoteSegment(76, from_s, from_s + 0.2, -20.0)
    begins = likeliest_beginning(due, stream.finished())
    assert begins is None or begins.log_odds < 0


def _blown(time_s: Samples, midi: float, from_s: float, to_s: float) -> Samples:
    """A tone that rises within 20 ms and stops as fast."""
    hz = Tuning().midi_hz(midi)
    level = np.clip((time_s - from_s) / 0.02, 0, 1) * np.clip((to_s - time_s) / 0.02, 0, 1)
    order = np.arange(1, 9)[:, None]
    return np.asarray(level * (np.sin(2 * np.pi * hz * order * time_s) / order**1.5).sum(axis=0))
