"""The noise of playing: air at the lip, consonants, puffs, and breaths taken in.

Levels between the harmonics follow measurements we made on single notes of a public orchestra
sample set (about −31 dB re the tone in the low register, −40 dB at D6); no published figure.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from trainer.music.note import Start
from trainer.player.gesture import CONTROL_HZ, BlownNote, Track, Tracks, along, at_rate

_NOISE_BY_PITCH = ((300.0, 600.0, 1200.0, 2400.0), (-31.0, -33.0, -40.0, -41.0))
"""Fundamental (Hz) → breath noise against the tone (dB)."""
_SPILL_DB = 6.0
"""How much more is heard of air that makes no tone."""
_PUFF_DB = -17.0
"""A puff of silent air against the tone there would have been."""
_TUBE_DB = -6.0
"""Air ringing in the tube at the fingered pitch, against the hiss at the lip."""
_PINCHED_DB = 8.0
"""Hiss added by wholly pinched lips: our own estimate."""
_INHALED_DB, _SHORTEST_BREATH_S = -58.0, 0.12
"""Level of a breath taken in, and how long it lasts at least; our own estimates."""


@dataclass(frozen=True)
class _Consonant:
    """A burst of noise as the tongue lets go; sizes are our own estimates."""

    low_hz: float
    high_hz: float
    decay_s: float
    level_db: float
    """Against the tone."""


_FRONT = _Consonant(4500.0, 13000.0, 0.006, -36.0)
_BACK = _Consonant(1800.0, 6500.0, 0.011, -35.0)
_CONSONANTS: dict[Start, tuple[_Consonant, float]] = {
    Start.TONGUED: (_FRONT, 0.0),
    Start.LEGATO_TONGUE: (_FRONT, -7.0),
    Start.BACK_TONGUED: (_BACK, 0.0),
}
"""Each start's burst, and how much softer it is than the first, in dB; our own estimates."""


def breath(
    notes: list[BlownNote],
    tracks: Tracks,
    phase: NDArray[np.float64],
    sample_rate_hz: int,
    extra_db: float,
    random: np.random.Generator,
) -> NDArray[np.float64]:
    """All noise of the round, shape of the phase."""
    white = random.standard_normal(len(phase))
    air = at_rate(_air_level(notes, tracks, extra_db), sample_rate_hz, len(phase))
    sound = (_hiss(white, sample_rate_hz) + _tube(phase, sample_rate_hz, random)) * air
    for consonant in (_FRONT, _BACK):
        strokes = _strokes(notes, tracks.time_s, consonant)
        if strokes.any():
            burst = _band(white, consonant.low_hz, consonant.high_hz, sample_rate_hz)
            sound += burst * at_rate(strokes, sample_rate_hz, len(phase))
    inhaled = _inhaled(notes, tracks.time_s)
    if inhaled.any():
        breath_in = _band(white, 500, 3500, sample_rate_hz)
        sound += breath_in * at_rate(inhaled, sample_rate_hz, len(phase))
    return np.asarray(sound)


def _air_level(notes: list[BlownNote], tracks: Tracks, extra_db: float) -> Track:
    """RMS level of the air noise, linear, at the control rate."""
    under_tone_db = [_noise_db(note) for note in notes]
    level = 10 ** ((along(tracks, np.array(under_tone_db)) + extra_db) / 20)
    spilt = 1 + (10 ** (_SPILL_DB / 20) - 1) * np.clip(1 - tracks.tone, 0, 1)
    return np.asarray(tracks.air * level * spilt)


def _noise_db(note: BlownNote) -> float:
    if note.start is Start.SILENT_AIR:
        return note.level_db + _PUFF_DB - _SPILL_DB
    hz, under_db = _NOISE_BY_PITCH
    usual_db = float(np.interp(np.log2(note.hz), np.log2(hz), under_db))
    return note.level_db + usual_db + _PINCHED_DB * note.pinched


def _hiss(white: NDArray[np.float64], sample_rate_hz: int) -> NDArray[np.float64]:
    """Turbulence at the lip, unit RMS: a hump from 0.5 to 4 kHz that thins out upwards."""
    return _band(white, 500, 4000, sample_rate_hz, order=1)


def _tube(
    phase: NDArray[np.float64], sample_rate_hz: int, random: np.random.Generator
) -> NDArray[np.float64]:
    """Noise narrowed by the tube's resonances around the first harmonics of the fingering."""
    slow_hz = CONTROL_HZ
    count = int(len(phase) * slow_hz / sample_rate_hz) + 2
    low = signal.butter(1, 70, "low", fs=slow_hz, output="sos")
    sway = signal.sosfilt(low, random.standard_normal((2, count)))
    sway /= sway.std()
    level = 10 ** (_TUBE_DB / 20)
    first, second = (at_rate(row, sample_rate_hz, len(phase)) for row in sway)
    return np.asarray(level * (first * np.sin(phase) + 0.6 * second * np.sin(2 * phase)))


def _strokes(notes: list[BlownNote], time_s: Track, consonant: _Consonant) -> Track:
    """Envelope of one consonant's bursts: at once, then dying away."""
    strokes = np.zeros_like(time_s)
    for note in notes:
        used, softer_db = _CONSONANTS.get(note.start, (None, 0.0))
        if used is consonant:
            begin = int(np.ceil(note.onset_s * CONTROL_HZ))
            here = slice(begin, begin + round(6 * consonant.decay_s * CONTROL_HZ))
            level_db = note.level_db + consonant.level_db + softer_db + note.stroke_db
            dying = np.exp(-(time_s[here] - note.onset_s) / consonant.decay_s)
            strokes[here] += 10 ** (level_db / 20) * dying
    return strokes


def _inhaled(notes: list[BlownNote], time_s: Track) -> Track:
    """Envelope of the breaths taken in."""
    inhaled = np.zeros_like(time_s)
    for note, after in pairwise(notes):
        gap_s = after.onset_s - note.end_s
        if note.inhales and gap_s > _SHORTEST_BREATH_S:
            share = (time_s - note.end_s - 0.03) / min(gap_s - 0.06, 0.7)
            inside = (share > 0) & (share < 1)
            inhaled[inside] = 10 ** (_INHALED_DB / 20) * np.sin(np.pi * share[inside])
    return inhaled


def _band(
    white: NDArray[np.float64], low_hz: float, high_hz: float, sample_rate_hz: int, order: int = 2
) -> NDArray[np.float64]:
    """A band of the noise at unit RMS, as much of it as the rate can carry."""
    top_hz = min(high_hz, 0.45 * sample_rate_hz)
    bottom_hz = min(low_hz, 0.5 * top_hz)
    sos = signal.butter(order, (bottom_hz, top_hz), "band", fs=sample_rate_hz, output="sos")
    sound = signal.sosfilt(sos, white)
    return np.asarray(sound / sound.std())
