"""The sound against published figures and against real flutes."""

from __future__ import annotations

import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import soundfile

from trainer.music.note import Articulation
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits

EVEN = Habits(vibrato_cents=0.0, human_cents=0.0, human_level_db=0.0)
RECORDINGS = Path(__file__).parents[3] / "shared" / "recordings" / "single"

# SHARC (G. Sandell Harmonic Archive; McGill master samples), packaged in sharc-timbre, BSD-3:
# levels of the first harmonics of the flute in dB re the strongest, copied from its data.
SHARC_FLUTE = {
    "C4": [-9.6, 0.0, -6.4, -11.5, -8.4, -16.8],
    "D4": [-5.0, 0.0, -14.4, -15.0, -10.0],
    "F4": [0.0, -1.8, -18.4, -16.6, -12.7, -27.7],
    "A4": [0.0, -2.8, -17.1, -15.5, -19.5, -32.1],
    "D5": [0.0, -15.7, -18.4, -27.5],
    "A5": [0.0, -16.5, -16.9, -32.4],
    "D6": [0.0, -15.0, -31.7],
    "A6": [0.0, -23.3, -25.9],
    "C7": [0.0, -30.3, -27.5],
}


@pytest.mark.parametrize("name", SHARC_FLUTE)
def test_harmonic_balance_is_the_measured_one(row, analysis, name):
    played = Flutist(EVEN, seed=1).play(row(name, length=Fraction(3)), 60, Tuning())
    sound = analysis.part(played.samples, 0.6, 3.0)
    expected_db = SHARC_FLUTE[name]
    heard_db = analysis.harmonics_db(sound, Tuning().hz(Pitch.parse(name)), len(expected_db))
    assert heard_db == pytest.approx(np.array(expected_db), abs=0.6)


def test_louder_is_brighter(row, analysis):
    """UNSW Music Acoustics, flute C4 page: louder is mostly more power in high harmonics."""

    def upper_db(fade_db: float) -> float:
        faint = replace(EVEN, tired_fade_db=fade_db)
        notes = row("A4 A4", Articulation.SINGLE, Fraction(2))
        last = Flutist(faint, seed=1).play(notes, 60, Tuning())
        sound = analysis.part(last.samples, 2.6, 4.0)
        return float(analysis.harmonics_db(sound, 440.0, 5)[2:].mean())

    assert upper_db(0.0) - upper_db(12.0) > 4


def test_vibrato_has_the_rate_and_width_asked_for(row, analysis):
    pulsing = Habits(vibrato_hz=6.0, vibrato_cents=10.0)
    played = Flutist(pulsing, seed=2).play(row("A5", length=Fraction(4)), 60, Tuning())
    hz = analysis.part(analysis.hz_track(played.samples, 700, 1100), 1.0, 4.0)
    cents = 1200 * np.log2(hz / hz.mean())
    spectrum = np.abs(np.fft.rfft(cents * np.hanning(len(cents)), 1 << 20))
    freqs = np.fft.rfftfreq(1 << 20, 1 / analysis.rate_hz)
    slow = (freqs > 3) & (freqs < 10)
    assert freqs[slow][np.argmax(spectrum[slow])] == pytest.approx(6.0, abs=0.3)
    assert np.std(cents) * np.sqrt(2) == pytest.approx(10.0, abs=1.5)


def test_a_slur_does_not_break_and_a_stroke_does(row, analysis):
    def deepest_db(articulation: Articulation) -> float:
        notes = row("A5 B5 C6 B5 A5", articulation)
        played = Flutist(EVEN, seed=3).play(notes, 80, Tuning())
        envelope = analysis.envelope_db(analysis.band(played.samples, 700, 1300), 0.004)
        inner = [note.onset_s for note in played.truth[1:]]
        dips = [analysis.part(envelope, onset - 0.05, onset + 0.03).min() for onset in inner]
        return float(np.median(dips) - np.median(envelope[envelope > -40]))

    assert deepest_db(Articulation.SLURRED) > -4
    assert -14 < deepest_db(Articulation.LEGATO_TONGUE) < -6
    assert deepest_db(Articulation.SINGLE) < -18


def test_a_slur_has_no_seam(row):
    """No sample-to-sample jump in a slur is larger than those of the steady notes."""
    played = Flutist(EVEN, seed=1).play(row("A4 E5 A4 E5", Articulation.SLURRED), 60, Tuning())
    steps = np.abs(np.diff(played.samples, 2))
    around = np.zeros(len(steps), bool)
    for note in played.truth[1:]:
        centre = round(note.onset_s * played.sample_rate_hz)
        around[centre - 1500 : centre + 1500] = True
    assert steps[around].max() < 1.5 * steps[~around].max()


def test_silent_air_has_no_tone_and_a_breath_start_has(row, analysis):
    def tone_share_db(articulation: Articulation) -> float:
        played = Flutist(seed=1).play(row("A4 A4 A4 A4", articulation), 60, Tuning())
        tone = analysis.band(played.samples, 425, 455)
        return analysis.level_db(tone) - analysis.level_db(played.samples)

    assert tone_share_db(Articulation.AIR_ONLY) > -6
    assert tone_share_db(Articulation.AIR_ONLY_SILENT) < -8
    silent = Flutist(seed=1).play(row("A4", Articulation.AIR_ONLY_SILENT), 60, Tuning())
    assert silent.truth[0].level_db == -np.inf


@pytest.mark.skipif(not RECORDINGS.is_dir(), reason="no real flute recordings beside the project")
@pytest.mark.parametrize("name", ["E4", "D5", "D6"])
def test_breath_noise_is_near_a_real_flutes(row, analysis, name):
    """Noise between the harmonics re the tone, 2–5 kHz: within 6 dB of the real notes' range."""
    real_db = []
    for dynamic in ("piano", "mezzo-forte", "forte"):
        sound, rate_hz = soundfile.read(RECORDINGS / f"flute_{name}_1_{dynamic}_normal.mp3")
        loudest = int(np.argmax(np.convolve(sound**2, np.ones(8192), "same")))
        start = min(max(loudest - 8192, 0), len(sound) - 16384)
        real_db.append(replace(analysis, rate_hz=rate_hz).noise_db(sound[start : start + 16384]))
    played = Flutist(EVEN, seed=2).play(row(name, length=Fraction(2)), 60, Tuning(), 44100)
    ours_db = replace(analysis, rate_hz=44100).noise_db(played.samples[30000:46384])
    assert min(real_db) - 6 < ours_db < max(real_db) + 6


def test_how_fast_it_renders_is_reported(row, record_property):
    notes = row("C4 E4 G4 C5 E5 G5 C6 E6 G6 C7", length=Fraction(1))
    begun = time.perf_counter()
    played = Flutist(seed=1).play(notes, 60, Tuning())
    seconds = len(played.samples) / played.sample_rate_hz
    record_property("times_real_time", seconds / (time.perf_counter() - begun))
    assert seconds > 10
