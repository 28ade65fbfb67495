"""The last note still ringing in this one: what a room does to every fast note.

The old tone's harmonics are fitted beside the new one's and taken out, as far as the stretch is
long enough to tell the two apart.
"""

from __future__ import annotations

import numpy as np

from trainer.ear.analysis.frames import Samples, Track

OWN_HARMONICS = 6
"""Of the note itself."""
RINGING_HARMONICS = 5
"""Of the one that rings."""
TOP_SHARE = 0.45
BLOCK = 64
"""Samples in a block: phases are made for one block and for the blocks' places, not for each."""
NEARBY_CENTS = np.arange(-50.0, 51.0, 10.0)


def without_ringing(
    stretch: Samples, sample_rate_hz: int, hz: float, ringing_hz: float | None
) -> tuple[Samples, float]:
    """A stretch of one note without what rings from the note before, and the frequency near `hz`
    from which its harmonics explain most of it."""
    x = stretch.astype(np.float64)
    old = np.zeros((x.size, 0))
    if ringing_hz is not None:
        old = _waves(x.size, ringing_hz, RINGING_HARMONICS, sample_rate_hz, apart_from_hz=hz)
    nearby = _nearby(hz)
    solved = [
        _together(x, _waves(x.size, near, OWN_HARMONICS, sample_rate_hz), old) for near in nearby
    ]
    best = int(np.argmax([explained for explained, _ in solved]))
    return (x - old @ solved[best][1]).astype(np.float32), float(nearby[best])


def _together(x: Track, own: Track, old: Track) -> tuple[float, Track]:
    """How much of a stretch of shape (size,) two tones explain together, by least squares, and the
    amounts of the old one's waves; both tones of shape (size, waves)."""
    mixed = own.T @ old
    gram = np.block([[own.T @ own, mixed], [mixed.T, old.T @ old]])
    gram[np.diag_indices_from(gram)] *= 1 + 1e-6
    sums = np.concatenate([own.T @ x, old.T @ x])
    amounts = np.linalg.solve(gram, sums)
    return float(amounts @ sums), amounts[own.shape[1] :]


def _nearby(hz: float) -> Track:
    return np.asarray(hz * 2 ** (NEARBY_CENTS / 1200))


def _waves(
    size: int, hz: float, most: int, sample_rate_hz: int, apart_from_hz: float | None = None
) -> Track:
    """Cosines and sines of the harmonics, shape (size, 2 · harmonics); with another tone to stand
    apart from, without those too near its own."""
    harmonics = hz * np.arange(1, most + 1)
    harmonics = harmonics[harmonics < TOP_SHARE * sample_rate_hz]
    if apart_from_hz is not None:
        other = apart_from_hz * np.maximum(1, np.round(harmonics / apart_from_hz))
        harmonics = harmonics[np.abs(harmonics - other) > sample_rate_hz / size]
    turn = 2 * np.pi / sample_rate_hz * harmonics[:, None]
    within = np.exp(1j * turn * np.arange(BLOCK))
    blocks = np.exp(1j * turn * BLOCK * np.arange(-(-size // BLOCK)))
    turning = (blocks[:, :, None] * within[:, None, :]).reshape(
        harmonics.size, blocks.shape[1] * BLOCK
    )[:, :size]
    return np.concatenate([turning.real, turning.imag]).T
