"""The last note still ringing in this one: what a room does to every fast note.

The old tone's harmonics are fitted beside the new one's and taken out, as far as the stretch is
long enough to tell the two apart.
"""

from __future__ import annotations

import numpy as np

from trainer.ear.analysis.frames import Samples, Track
from trainer.ear.analysis.harmonic_fit import BLOCK, Waves

OWN_HARMONICS = 6
"""Of the note itself."""
RINGING_HARMONICS = 5
"""Of the one that rings."""
TOP_SHARE = 0.45
"""Of the sampling rate: higher harmonics are not there."""
NEARBY_CENTS = np.arange(-50.0, 51.0, 10.0)


def without_ringing(
    stretch: Samples, sample_rate_hz: int, hz: float, ringing_hz: float | None
) -> tuple[Samples, float]:
    """A stretch of one note without what rings from the note before, and the frequency near `hz`
    from which its harmonics explain most of it."""
    x = stretch.astype(np.float64)
    old = np.zeros(0)
    if ringing_hz is not None:
        old = _harmonics(ringing_hz, RINGING_HARMONICS, sample_rate_hz)
        old = old[_apart(old, hz) > sample_rate_hz / x.size]
    blocks = np.pad(x, (0, -x.size % BLOCK)).reshape(-1, BLOCK)
    per_hz = 2 * np.pi / sample_rate_hz
    nearby = _nearby(hz)
    owns = [_harmonics(near, OWN_HARMONICS, sample_rate_hz) for near in nearby]
    solved = [_together(blocks, x.size, per_hz * np.append(own, old)) for own in owns]
    best = int(np.argmax([explained for explained, _ in solved]))
    ringing = _wave(per_hz * old, solved[best][1][owns[best].size :], len(blocks))
    return (x - ringing[: x.size]).astype(np.float32), float(nearby[best])


def _together(blocks: Track, size: int, turns: Track) -> tuple[float, Waves]:
    """How much of a stretch waves of so many turns a sample explain together, by least squares, and
    how much of each is in it. `blocks`: the stretch of that size, shape (blocks, BLOCK)."""
    sums = _sums_with_waves(blocks, turns)
    apart = _sum_of_wave(turns[:, None] - turns, size)
    joint = _sum_of_wave(turns[:, None] + turns, size)
    cosines = [(apart + joint).real, (joint - apart).imag]
    sines = [(joint + apart).imag, (apart - joint).real]
    gram = np.block([cosines, sines]) / 2
    gram[np.diag_indices_from(gram)] *= 1 + 1e-6
    with_sound = np.concatenate([sums.real, -sums.imag])
    amounts = np.linalg.solve(gram, with_sound)
    explained = float(amounts @ with_sound)
    return explained, amounts[: turns.size] - 1j * amounts[turns.size :]


def _sums_with_waves(blocks: Track, turns: Track) -> Waves:
    """Sums of the sound times each wave, from phase 0 at its first sample, shape (waves,)."""
    within = np.exp(-1j * np.outer(np.arange(BLOCK), turns))
    starts = np.exp(-1j * np.outer(np.arange(len(blocks)) * BLOCK, turns))
    return np.asarray(np.einsum("ij,ij->j", starts, blocks @ within))


def _sum_of_wave(turns: Track, size: int) -> Waves:
    """The sum of a wave over so many samples from phase 0 on: Dirichlet's kernel."""
    half = turns / 2
    still = np.abs(half) < 1e-12
    length = np.where(still, size, np.sin(size * half) / np.where(still, 1.0, np.sin(half)))
    return np.asarray(np.exp(1j * (size - 1) * half) * length)


def _wave(turns: Track, amounts: Waves, blocks: int) -> Track:
    """So much of each wave over so many blocks."""
    starts = amounts * np.exp(1j * np.outer(np.arange(blocks) * BLOCK, turns))
    return np.asarray((starts @ np.exp(1j * np.outer(turns, np.arange(BLOCK)))).real.reshape(-1))


def _nearby(hz: float) -> Track:
    return np.asarray(hz * 2 ** (NEARBY_CENTS / 1200))


def _harmonics(hz: float, most: int, sample_rate_hz: int) -> Track:
    """Those that the rate can hold, in Hz, shape (harmonics,)."""
    harmonics = hz * np.arange(1, most + 1)
    return np.asarray(harmonics[harmonics < TOP_SHARE * sample_rate_hz])


def _apart(harmonics: Track, hz: float) -> Track:
    """How far each lies from the nearest harmonic of another tone, in Hz."""
    return np.asarray(np.abs(harmonics - hz * np.maximum(1, np.round(harmonics / hz))))
