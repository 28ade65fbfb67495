"""Taps of a foot beside starts. A tap's frequencies: steps on floors have their energy below 200 Hz
(made up so, no source); the flute's lowest note, B3, is 247 Hz (ISO 16)."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import signal

from tests.ear.recorded import RATE, phrases, sound_of
from tests.ear.steady_tones import Sound, in_a_row, measured, steady
from trainer.ear.segments.knock import knocks_at
from trainer.ear.segments.note_start import strokes_beside_knocks
from trainer.ear.segments.start_network import KINDS
from trainer.ear.transcribe import transcribe
from trainer.music.note import Start
from trainer.music.tuning import Tuning

SEAM_S = 0.9
"""Of two tones of half a second that follow on each other."""


def tap(hz: float, dice: np.random.Generator) -> Sound:
    """A floor that rings for a moment, and the knock on it; 1 at its highest."""
    time_s = np.arange(round(0.15 * RATE)) / RATE
    band = signal.butter(2, (300, 1500), "bandpass", fs=RATE, output="sos")
    noise = signal.sosfilt(band, dice.standard_normal(time_s.size))
    sound = np.sin(2 * np.pi * hz * time_s) * np.exp(-time_s / 0.03)
    sound += 0.4 * noise * np.exp(-time_s / 0.012)
    return np.asarray(sound / np.abs(sound).max())


def with_taps(sound: Sound, times_s: list[float], loud: float, seed: int) -> Sound:
    """Taps beside a sound, their highest samples as given."""
    dice, out = np.random.default_rng(seed), sound.copy()
    for time_s in times_s:
        one, first = loud * tap(float(dice.uniform(60, 110)), dice), round(time_s * RATE)
        out[first : first + one.size] += one[: max(0, out.size - first)]
    return out


@pytest.mark.parametrize(
    ("tap_s", "knocks"), [(0.0, True), (0.03, True), (-0.03, True), (0.2, False)]
)
@pytest.mark.parametrize("midis", [(60, 62), (74, 76), (86, 93)])
def test_a_tap_at_a_seam_is_a_knock(midis: tuple[int, int], tap_s: float, *, knocks: bool) -> None:
    tones = in_a_row(*(steady(midi, 0.5) for midi in midis))
    sound = with_taps(tones, [SEAM_S + tap_s], 0.2, 1)
    assert knocks_at(measured(sound), SEAM_S) == knocks


def test_a_stroke_is_no_knock() -> None:
    tones = in_a_row(steady(60, 0.48), steady(62, 0.5), gap_s=0.02)
    assert not knocks_at(measured(tones), SEAM_S)


def test_a_low_note_that_stands_is_no_knock() -> None:
    """A piano's A2, 110 Hz, begins with the note."""
    sound = in_a_row(steady(74, 0.5), steady(76, 0.5))
    first = round(SEAM_S * RATE)
    low = steady(45, 0.5)
    sound[first : first + low.size] += low
    assert not knocks_at(measured(sound), SEAM_S)


def test_behind_a_microphone_without_bass_nothing_is_a_knock() -> None:
    tapped = with_taps(in_a_row(steady(74, 0.5), steady(76, 0.5)), [SEAM_S], 0.2, 1)
    high_pass = signal.butter(4, 250, "highpass", fs=RATE, output="sos")
    sound = np.asarray(signal.sosfilt(high_pass, tapped))
    assert not knocks_at(measured(sound), SEAM_S)


@pytest.mark.parametrize(
    ("asked", "in_doubt"), [(Start.SLURRED, True), (None, True), (Start.TONGUED, False)]
)
def test_a_stroke_beside_a_tap_is_doubted_where_none_was_asked(
    asked: Start | None, *, in_doubt: bool
) -> None:
    """Of three starts the middle one has a tap beside it; the last can't be a slur."""
    tones = in_a_row(steady(74, 0.5), steady(76, 0.5), steady(78, 0.5), steady(78, 0.5))
    features = measured(with_taps(tones, [1.4, 1.9], 0.2, 1))
    seams: list[Any] = [SimpleNamespace(rough_s=at_s) for at_s in (0.9, 1.4, 1.9)]
    struck = np.array([[0.01, 0.02, 0.96, 0.01]] * 3)
    possible = np.ones(struck.shape, bool)
    possible[2, KINDS.index(Start.SLURRED)] = False
    doubts = strokes_beside_knocks(struck, possible, [asked] * 3, seams, features)
    assert doubts.tolist() == [False, in_doubt, False]


@pytest.mark.usefixtures("recordings")
@pytest.mark.parametrize(("phrase", "seed"), [("D5", 2), ("D5", 4), ("G5", 4)])
def test_no_slur_beside_a_tapping_foot_is_called_a_stroke(phrase: str, seed: int) -> None:
    """Taps half as loud again as the flute at every other slur of a legato phrase: without a look
    for knocks 3, 2 and 4 of these slurs are heard as strokes, surely."""
    sound = sound_of(phrases()[phrase, "legato"])
    notes = transcribe(sound.astype(np.float32), RATE, Tuning()).notes
    slurs_s = [note.onset_s or 0.0 for note in notes if note.start is Start.SLURRED]
    loud = 1.5 * float(np.percentile(np.abs(sound), 99))
    tapped = with_taps(sound, slurs_s[::2], loud, seed)
    struck_s = [
        note.onset_s
        for note in transcribe(tapped.astype(np.float32), RATE, Tuning()).notes
        if note.onset_s is not None and note.start in (Start.TONGUED, Start.LEGATO_TONGUE)
    ]
    assert not [at_s for at_s in struck_s if np.abs(np.array(slurs_s) - at_s).min() < 0.05]
