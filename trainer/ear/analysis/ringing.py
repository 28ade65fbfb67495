"""The last note still ringing in this one: what a room does to every fast note.

The old tone's harmonics are fitted beside the new one's and taken out, as far as the stretch is
long enough to tell the two apart. Times are counted from the stretch's centre: cosines are even
about it and sines odd, so that each are fitted by themselves.
"""

from __future__ import annotations

import numpy as np

from trainer.ear.analysis.frames import TOP_SHARE, Samples, Track
from trainer.ear.analysis.harmonic_fit import BLOCK, WITHIN, Waves, in_blocks, waves

OWN_HARMONICS = 6
"""Of the note itself."""
RINGING_HARMONICS = 5
"""Of the one that rings."""
NEARBY = 2 ** (np.arange(-50.0, 51.0, 10.0) / 1200)
"""Frequencies that are tried, against the rough one: a quarter tone to either side."""


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
    nearby = hz * NEARBY
    own = _harmonics(nearby[-1], OWN_HARMONICS, sample_rate_hz).size
    per_hz = 2 * np.pi / sample_rate_hz
    explained, amounts = _together(x, per_hz * nearby, own, per_hz * old)
    best = int(explained.argmax())
    ringing = _wave(per_hz * old, amounts[best, own:], x.size)
    return (x - ringing).astype(np.float32), float(nearby[best])


def _together(x: Track, turns: Track, harmonics: int, old: Track) -> tuple[Track, Waves]:
    """How much of a stretch each tone explains beside some old waves, by least squares, shape
    (tones,), and how much of each wave is in it: the tone's harmonics, then the old ones, shape
    (tones, waves). turns: of the tones, radians a sample; harmonics: how many; old: as turns."""
    owns = turns[:, None] * np.arange(1, harmonics + 1)
    both = np.concatenate([owns, np.tile(old, (turns.size, 1))], axis=1)
    sums = np.concatenate([_sums(x, turns, harmonics), _sums(x, old, 1)])
    of_owns, of_old = np.split(sums, [owns.size])
    sums = np.concatenate([of_owns.reshape(owns.shape), np.tile(of_old, (turns.size, 1))], axis=1)
    apart = _sum_of_cosine(both[:, :, None] - both[:, None, :], x.size)
    joint = _sum_of_cosine(both[:, :, None] + both[:, None, :], x.size)
    gram = np.stack([apart + joint, apart - joint]) / 2
    gram *= 1 + 1e-6 * np.eye(both.shape[1])
    with_sound = np.stack([sums.real, -sums.imag])
    amounts = np.linalg.solve(gram, with_sound[..., None])[..., 0]
    explained = (amounts * with_sound).sum(axis=(0, 2))
    return explained, amounts[0] - 1j * amounts[1]


def _sums(x: Track, turns: Track, harmonics: int) -> Waves:
    """Sums of the sound times each harmonic of each tone, those of one tone after another, shape
    (tones · harmonics,)."""
    by_block = in_blocks(x) @ waves(WITHIN, -turns, harmonics).view(np.float64)
    by_start = waves(_starts(x.size), -turns, harmonics)
    return np.asarray(np.einsum("ij,ij->j", by_start, by_block.view(np.complex128)))


def _sum_of_cosine(turns: Track, size: int) -> Track:
    """The sum of a cosine over so many samples about its top: Dirichlet's kernel."""
    half = turns / 2
    still = np.abs(half) < 1e-12
    return np.where(still, size, np.sin(size * half) / np.where(still, 1.0, np.sin(half)))


def _wave(turns: Track, amounts: Waves, size: int) -> Track:
    """So much of each wave over so many samples."""
    by_start = np.multiply(waves(_starts(size), turns, 1), amounts)
    return np.asarray((by_start @ waves(WITHIN, turns, 1).T).real.reshape(-1)[:size])


def _starts(size: int) -> Track:
    """Where each block of a stretch of so many samples begins, from its centre."""
    return np.asarray(np.arange(0, size, BLOCK) - (size - 1) / 2, np.float64)


def _harmonics(hz: float, most: int, sample_rate_hz: int) -> Track:
    """Those that the rate can hold, in Hz, shape (harmonics,)."""
    harmonics = hz * np.arange(1, most + 1)
    return np.asarray(harmonics[harmonics < TOP_SHARE * sample_rate_hz])


def _apart(harmonics: Track, hz: float) -> Track:
    """How far each lies from the nearest harmonic of another tone, in Hz."""
    return np.asarray(np.abs(harmonics - hz * np.maximum(1, np.round(harmonics / hz))))
