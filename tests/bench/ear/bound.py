"""Distance to the bound no unbiased method can pass, for a steady harmonic tone in white noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.bench.ear.takes import RATE
from trainer.ear.transcribe import transcribe
from trainer.music.tuning import Tuning
from trainer.player.sharc import HARMONIC_LEVELS_DB

Array = NDArray[np.float64]
QUIET_S = 0.3


@dataclass(frozen=True)
class BoundRow:
    """Many tones of one length and noise."""

    seconds: float
    snr_db: float
    median_cents: float
    at_95_cents: float
    gross: float
    times_bound: float
    """Root mean square error of the notes found right, in multiples of the bound for the whole
    tone's length; the ear leaves out the change-over at both ends, so 1 can't be reached."""


def bound_row(seconds: float, snr_db: float, dice: np.random.Generator) -> BoundRow:
    """Single tones over C4 to C7 with SHARC's harmonics, read without being told the note."""
    off, bounds = [], []
    for midi in range(60, 97):
        sound, cents, bound_cents = _tone(midi, seconds, snr_db, dice)
        notes = transcribe(sound.astype(np.float32), RATE, Tuning()).notes
        heard = [100 * (n.midi - midi) - cents for n in notes if n.midi is not None]
        off.append(heard[0] if len(heard) == 1 else np.inf)
        bounds.append(bound_cents)
    errors = np.abs(np.array(off))
    right = errors <= 50
    share = errors[right] / np.array(bounds)[right]
    return BoundRow(
        seconds,
        snr_db,
        float(np.median(errors)),
        float(np.percentile(errors, 95)),
        float(np.mean(~right)),
        float(np.sqrt(np.mean(share**2))) if right.any() else np.inf,
    )


def _tone(
    midi: int, seconds: float, snr_db: float, dice: np.random.Generator
) -> tuple[Array, float, float]:
    """Sound, its cents, and the bound in cents.

    Bound: 24 s² / (N³ Σ k² A_k²) (rad per sample)², s² the noise variance (Nehorai & Porat 1986,
    IEEE Trans. ASSP 34:1124, for N large).
    """
    cents = float(dice.uniform(-30, 30))
    hz = 440 * 2 ** ((midi - 69 + cents / 100) / 12)
    order = np.arange(1, len(HARMONIC_LEVELS_DB[midi]) + 1)
    levels = np.where(
        order * hz < 0.45 * RATE, 10 ** (np.array(HARMONIC_LEVELS_DB[midi]) / 20), 0.0
    )
    levels *= 0.1 * np.sqrt(2) / np.sqrt(np.sum(levels**2))
    count, quiet = round(seconds * RATE), round(QUIET_S * RATE)
    turn = 2 * np.pi * hz / RATE * np.arange(count)
    phases = dice.uniform(0, 2 * np.pi, order.size)
    tone = np.sum(levels[:, None] * np.sin(order[:, None] * turn + phases[:, None]), axis=0)
    noise_std = 0.1 * 10 ** (-snr_db / 20)
    sound = dice.standard_normal(count + 2 * quiet) * noise_std
    sound[quiet : quiet + count] += tone
    variance = 24 * noise_std**2 / (count**3 * np.sum((order * levels) ** 2))
    bound_hz = np.sqrt(variance) * RATE / (2 * np.pi)
    return sound, cents, float(1200 / np.log(2) * bound_hz / hz)
