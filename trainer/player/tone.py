"""The tone itself: harmonics on one running phase, so that a slur has no seam."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trainer.player.gesture import BlownNote, Track, Tracks, along, at_rate
from trainer.player.spectrum import HARMONICS, harmonic_amplitudes

_LATER_PER_HARMONIC = 0.25
"""Each harmonic follows the envelope to a higher power: high ones come late and leave early, as
when a flute is blown harder or softer. Our own estimate."""


def pitch_hz(notes: list[BlownNote], tracks: Tracks) -> Track:
    """The frequency that sounds, at the control rate."""
    key_octaves = along(tracks, np.log2([note.hz for note in notes]))
    return np.asarray(np.exp2(key_octaves + tracks.cents / 1200))


def running_phase(hz: Track, sample_rate_hz: int, count: int) -> NDArray[np.float64]:
    """Phase of the fundamental in radians, shape (count,), from a control-rate frequency."""
    return np.asarray(2 * np.pi / sample_rate_hz * np.cumsum(at_rate(hz, sample_rate_hz, count)))


def tone(
    notes: list[BlownNote], tracks: Tracks, phase: NDArray[np.float64], sample_rate_hz: int
) -> NDArray[np.float64]:
    """The tone without its breath noise, shape of the phase."""
    balances = np.array(
        [
            harmonic_amplitudes(
                note.hz, note.level_db, sample_rate_hz, note.pinched, note.bright_db
            )
            * 10 ** (note.level_db / 20)
            for note in notes
        ]
    )
    sound = np.zeros_like(phase)
    twice_cosine, before, now = 2 * np.cos(phase), np.zeros_like(phase), np.sin(phase)
    part = np.empty_like(phase)
    for harmonic in range(HARMONICS):
        if not balances[:, harmonic].any():
            break
        envelope = tracks.tone ** (1 + _LATER_PER_HARMONIC * harmonic)
        amplitude = along(tracks, balances[:, harmonic]) * envelope
        sound += np.multiply(now, at_rate(amplitude, sample_rate_hz, len(phase)), out=part)
        np.multiply(twice_cosine, now, out=part)
        part -= before  # sin((n+1)x) from sin(nx) and sin((n-1)x)
        before, now, part = now, part, before
    return sound
