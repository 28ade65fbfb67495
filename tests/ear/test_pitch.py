"""Cents against known truth and against the bound no method can pass."""

from __future__ import annotations

import numpy as np
import pytest

from tests.ear.conftest import FIRST_S, RATE, Hear, scored
from tests.ear.made_flute import Blown
from trainer.ear.analysis.harmonic_fit import harmonic_fit
from trainer.ear.analysis.salience import WEAK_FUNDAMENTAL_BELOW_MIDI
from trainer.ear.hear import hear
from trainer.ear.heard import State
from trainer.ear.transcribe import transcribe
from trainer.music.note import Start
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning


def steady(midi: float, seconds: float, snr_db: float, dice: np.random.Generator, rate: int = RATE):
    """Five harmonics in white noise; snr_db is the whole tone's power against the noise's."""
    hz = 440 * 2 ** ((midi - 69) / 12)
    levels = np.array(
        [a for k, a in enumerate((1.0, 0.6, 0.3, 0.2, 0.1), 1) if k * hz < 0.45 * rate]
    )
    levels *= 0.1 / np.sqrt(np.sum(levels**2) / 2)
    time_s = np.arange(round(seconds * rate)) / rate
    phases = dice.uniform(0, 2 * np.pi, levels.size)
    tone = sum(
        a * np.sin(2 * np.pi * hz * k * time_s + p)
        for k, (a, p) in enumerate(zip(levels, phases, strict=True), 1)
    )
    return tone + dice.standard_normal(time_s.size) * 0.1 * 10 ** (-snr_db / 20), hz, levels


@pytest.mark.parametrize("midi", [60.0, 71.4, 83.0, 96.0])
@pytest.mark.parametrize("snr_db", [10.0, 30.0])
def test_least_squares_comes_near_the_bound(midi: float, snr_db: float) -> None:
    """Cramér–Rao bound of a harmonic tone's fundamental, N samples, noise variance s²:
    24 · s² / (N³ · Σ k² A_k²) rad² per sample² (Nehorai & Porat 1986, IEEE Trans. ASSP 34:1124)."""
    dice = np.random.default_rng(5)
    off_cents, count = [], 0
    for _ in range(40):
        sound, hz, levels = steady(midi, 0.125, snr_db, dice)
        count = sound.size
        fit = harmonic_fit(sound.astype(np.float32), 0, count, hz * 1.002, RATE)
        assert fit is not None
        off_cents.append(1200 * np.log2(fit.hz / hz))
    order = np.arange(1, levels.size + 1)
    variance = 24 * (0.1 * 10 ** (-snr_db / 20)) ** 2 / (count**3 * np.sum((order * levels) ** 2))
    bound_cents = 1200 / np.log(2) * np.sqrt(variance) * RATE / (2 * np.pi) / hz
    assert np.std(off_cents) < 2 * bound_cents


def test_steady_notes_read_within_a_tenth_of_a_cent() -> None:
    dice = np.random.default_rng(9)
    off_cents = []
    for midi in range(60, 97, 3):
        true_cents = dice.uniform(-40, 40)
        sound, _, _ = steady(midi + true_cents / 100, 0.4, 30.0, dice)
        quiet = np.zeros(RATE // 4)
        take = transcribe(np.concatenate([quiet, sound, quiet]).astype(np.float32), RATE, Tuning())
        assert len(take.notes) == 1
        off_cents.append((take.notes[0].cents or 0.0) - true_cents)
    assert np.median(np.abs(off_cents)) <= 0.1
    assert np.percentile(np.abs(off_cents), 95) <= 0.5


@pytest.mark.parametrize("midi", range(60, 97, 4))
def test_no_gross_error_in_strong_noise(midi: int) -> None:
    dice = np.random.default_rng(midi)
    sound, _, _ = steady(midi, 0.3, 10.0, dice)
    quiet = dice.standard_normal(RATE // 4) * 0.1 * 10 ** (-10 / 20)
    take = transcribe(np.concatenate([quiet, sound, quiet]).astype(np.float32), RATE, Tuning())
    assert [round(note.midi or 0) for note in take.notes] == [midi]


@pytest.mark.parametrize("start", [Start.SLURRED, Start.TONGUED])
def test_cents_of_scales_dry(start: Start) -> None:
    off = np.abs(np.concatenate([scored(start, bpm).off_cents() for bpm in (60, 120)]))
    assert np.median(off) <= 0.2
    assert np.percentile(off, 95) <= 1.5


def test_cents_of_a_slurred_scale_in_a_room() -> None:
    off = np.abs(scored(Start.SLURRED, 80, 0.3).off_cents())
    assert np.median(off) <= 1.0
    assert np.percentile(off, 95) <= 6.0


def test_a_second_harmonic_above_the_first_is_no_octave(heard: Hear) -> None:
    """SHARC's C4 has its second harmonic 9.6 dB above the first."""
    notes = [Blown(60, 0.5, 0.9, Start.TONGUED), Blown(61, 0.9, 1.4, Start.SLURRED)]
    take = heard(notes, [60, 61], 37.5)
    assert [round(note.midi or 0) for note in take.notes] == [60, 61]


@pytest.mark.parametrize("rate", [44100, 48000])
def test_both_usual_rates_read_alike(rate: int) -> None:
    got = scored(Start.SLURRED, 100, rate=rate)
    assert got.take.count(State.MISSED) == 0
    assert np.median(np.abs(got.off_cents())) <= 0.2


def test_vibrato(heard: Hear) -> None:
    note = Blown(74, 0.5, 2.0, Start.TONGUED, vibrato_hz=5.3, vibrato_cents=14.0)
    got = heard([note], [74], 10).notes[0]
    assert got.vibrato_hz == pytest.approx(5.3, abs=0.2)
    assert got.vibrato_cents == pytest.approx(14.0, abs=2.0)
    assert got.cents == pytest.approx(0.0, abs=1.0)


def test_a_straight_tone_has_no_vibrato(heard: Hear) -> None:
    got = heard([Blown(74, 0.5, 2.0, Start.TONGUED)], [74], 10).notes[0]
    assert got.vibrato_hz is None


def test_a_higher_pitch_standard_moves_every_reading() -> None:
    got = scored(Start.SLURRED, 100)
    take = hear(got.samples, RATE, got.expected, 100, Tuning(a4_hz=442.0), FIRST_S)
    cents = [n.cents for n in take.notes if n.cents is not None]
    before = [n.cents for n in got.take.notes if n.cents is not None]
    moved = 1200 * np.log2(440 / 442)
    assert np.median(cents) - np.median(before) == pytest.approx(moved, abs=0.1)


def test_the_weak_low_notes_are_those_measured() -> None:
    """SHARC, the Sandell Harmonic Archive (McGill University Master Samples): the flute's notes
    whose strongest harmonic is not the first are C4 C#4 D4 D#4 E4."""
    assert Pitch.parse("E4").midi + 0.5 == WEAK_FUNDAMENTAL_BELOW_MIDI
