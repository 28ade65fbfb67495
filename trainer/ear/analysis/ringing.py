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
    waves = [_waves(x.size, near, OWN_HARMONICS, sample_rate_hz) for near in _nearby(hz)]
    old = np.zeros((x.size, 0))
    if ringing_hz is not None:
        old = _waves(x.size, ringing_hz, RINGING_HARMONICS, sample_rate_hz, apart_from_hz=hz)
    best, least = np.zeros(0), np.inf
    chosen = 0
    for place, own in enumerate(waves):
        both = np.concatenate([own, old], axis=1)
        gram = both.T @ both
        gram[np.diag_indices_from(gram)] *= 1 + 1e-6
        amounts = np.linalg.solve(gram, both.T @ x)
        left = float(np.sum((x - both @ amounts) ** 2))
        if left < least:
            best, least, chosen = amounts[own.shape[1] :], left, place
    return (x - old @ best).astype(np.float32), float(_nearby(hz)[chosen])


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
