"""The colour of a flute tone: harmonics by pitch, loudness and how pinched the lips are."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from trainer.music.tuning import Tuning
from trainer.player.sharc import HARMONIC_LEVELS_DB

HARMONICS = 16
"""Higher ones are lost in the breath's noise."""

_MEZZO_FORTE_DB = -20.0
"""RMS level of D5 at which the measured balance is taken to have been played, dBFS."""
_LOUDER_PER_OCTAVE_DB = 1.5
"""High notes are the louder ones: our own estimate."""

_BEYOND_MEASURED_DB = -4.0
"""Per harmonic above the last one measured: our own estimate."""
_LOUDER_BRIGHTER = np.array([0.0, 0.9] + [1.2] * (HARMONICS - 2))
"""dB a harmonic gains on the fundamental for each dB of loudness. That louder means mostly more
power in the high harmonics: UNSW Music Acoustics, flute C4 page; size our own estimate."""
_PINCHED_DB = np.array([-9.0, 0.0, 6.0, 9.0, 11.0, 12.0] + [12.0] * (HARMONICS - 6))
"""What wholly pinched lips do to each harmonic: our own estimate."""
_AUDIBLE_SHARE_OF_RATE = 0.45
"""Harmonics end a little below half the sampling rate."""


def usual_level_db(hz: float) -> float:
    """RMS level of a comfortable mezzo forte at this pitch, dBFS."""
    return _MEZZO_FORTE_DB + _LOUDER_PER_OCTAVE_DB * math.log2(hz / 587.33)


def harmonic_amplitudes(
    hz: float,
    level_db: float,
    sample_rate_hz: int,
    pinched: float = 0.0,
    bright_db: float = 0.0,
) -> NDArray[np.float64]:
    """Amplitudes of harmonics 1 to 16 of a tone of RMS level 1, shape (16,).

    bright_db: what each octave of harmonics gains on the fundamental.

    Interpolated between the semitones of the measured table; zero above the rate's band.
    """
    levels_db = (
        _measured_levels_db(Tuning().midi(hz))
        + _LOUDER_BRIGHTER * np.clip(level_db - usual_level_db(hz), -15, 8)
        + _PINCHED_DB * pinched
        + bright_db * np.log2(np.arange(1, HARMONICS + 1))
    )
    amplitudes = 10 ** (levels_db / 20)
    amplitudes[np.arange(1, HARMONICS + 1) * hz > _AUDIBLE_SHARE_OF_RATE * sample_rate_hz] = 0
    return np.asarray(amplitudes / math.sqrt(float(np.sum(amplitudes**2)) / 2))


def _measured_levels_db(midi: float) -> NDArray[np.float64]:
    """Levels at a fractional MIDI number, held constant beyond the ends of the table."""
    within = min(max(midi, min(HARMONIC_LEVELS_DB)), max(HARMONIC_LEVELS_DB))
    below = min(int(within), max(HARMONIC_LEVELS_DB) - 1)
    share = within - below
    return (1 - share) * _row_db(below) + share * _row_db(below + 1)


def _row_db(midi: int) -> NDArray[np.float64]:
    """One row of the table, carried on to harmonic 16."""
    measured = HARMONIC_LEVELS_DB[midi]
    start_db = sum(measured[-2:]) / 2
    further = start_db + _BEYOND_MEASURED_DB * np.arange(1, HARMONICS - len(measured) + 1)
    return np.concatenate([measured, further])
