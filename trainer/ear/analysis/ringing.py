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
    blocks = np.pad(x, (0, -x.size % BLOCK)).reshape(-1, BLOCK)
    per_hz = 2 * np.pi / sample_rate_hz
    nearby = hz * NEARBY
    own = _harmonics(nearby[-1], OWN_HARMONICS, sample_rate_hz).size
    owns = np.outer(nearby, np.arange(1, own + 1))
    explained, amounts = _together(blocks, x.size, per_hz * owns, per_hz * old)
    best = int(explained.argmax())
    ringing = _wave(per_hz * old, amounts[best, own:], len(blocks))
    return (x - ringing[: x.size]).astype(np.float32), float(nearby[best])


def _together(blocks: Track, size: int, owns: Track, old: Track) -> tuple[Track, Waves]:
    """How much of a stretch waves of so many turns a sample explain together, by least squares,
    shape (tries,), and how much of each is in it, shape (tries, waves): the own ones of each try,
    shape (tries, own waves), then the old ones, which are the same in all.
    `blocks`: the stretch of that size, shape (blocks, BLOCK)."""
    tries = len(owns)
    turns = np.concatenate([owns, np.tile(old, (tries, 1))], axis=1)
    sums = _sums_with_waves(blocks, np.concatenate([owns.reshape(-1), old]))
    of_owns, of_old = np.split(sums, [owns.size])
    sums = np.concatenate([of_owns.reshape(owns.shape), np.tile(of_old, (tries, 1))], axis=1)
    apart = _sum_of_wave(turns[:, :, None] - turns[:, None, :], size)
    joint = _sum_of_wave(turns[:, :, None] + turns[:, None, :], size)
    cosines = np.concatenate([(apart + joint).real, (joint - apart).imag], axis=2)
    sines = np.concatenate([(joint + apart).imag, (apart - joint).real], axis=2)
    gram = np.concatenate([cosines, sines], axis=1) / 2
    gram *= 1 + 1e-6 * np.eye(gram.shape[1])
    with_sound = np.concatenate([sums.real, -sums.imag], axis=1)
    amounts = np.linalg.solve(gram, with_sound[:, :, None])[:, :, 0]
    explained = np.einsum("ij,ij->i", amounts, with_sound)
    waves = turns.shape[1]
    return explained, amounts[:, :waves] - 1j * amounts[:, waves:]


def _sums_with_waves(blocks: Track, turns: Track) -> Waves:
    """Sums of the sound times each wave, from phase 0 at its first sample, shape (waves,)."""
    within = np.exp(-1j * np.outer(np.arange(BLOCK), turns))
    starts = np.exp(-1j * np.outer(np.arange(len(blocks)) * BLOCK, turns))
    by_block = (blocks @ within.view(np.float64)).view(np.complex128)
    return np.asarray(np.einsum("ij,ij->j", starts, by_block))


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


def _harmonics(hz: float, most: int, sample_rate_hz: int) -> Track:
    """Those that the rate can hold, in Hz, shape (harmonics,)."""
    harmonics = hz * np.arange(1, most + 1)
    return np.asarray(harmonics[harmonics < TOP_SHARE * sample_rate_hz])


def _apart(harmonics: Track, hz: float) -> Track:
    """How far each lies from the nearest harmonic of another tone, in Hz."""
    return np.asarray(np.abs(harmonics - hz * np.maximum(1, np.round(harmonics / hz))))
