"""The way of a known sound into the microphone, found under a player who plays at the same time.

The way is a linear filter of a third of a second. What the player and the room add is noise of the
worst kind for it: loud, and in the very harmonics of the known sound. So each cell of time and
frequency counts by how little is left there once the known sound is taken out, and the filter is
held to what a loudspeaker in a room can be: a direct sound as strong as the clicks show it, and a
tail that dies. That is weighted least squares with a Gaussian prior, solved by conjugate gradients
(Hestenes & Stiefel 1952, J. Res. NBS 49:409), one step at a time; the weights come from the filter
found before, as in iteratively reweighted least squares.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage, signal

from trainer.ear.analysis.frames import Samples

Spectra = NDArray[np.complex64]

WINDOW = 1024
"""128 ms at 8 kHz: long enough to part a harmonic from its neighbours an octave below."""
HOP = 256
"""Samples, at the rate of the fit."""
BEFORE_S = 0.004
"""The path may begin so much earlier than the clicks say."""
TAIL_S = 0.3
"""A room's path is followed for so long."""
TAIL_RT60_S = 0.4
EARLY_RT60_S = 0.02
"""The loudspeaker's own ringing and the first reflections."""
TAIL_SHARE = 0.25
"""Of the path's energy that is expected in its tail."""
EARLY_SHARE = 0.5
DIRECT_SPREAD = 1.0
"""Samples. The three shares of the energy to be expected are our own estimate: a room's tail some
6 dB below the direct sound."""
COHERENT, MOST_COHERENT = 4.0, 48.0
"""A note stands longer than a window, so that its windows aren't so many independent looks; least
of all where the player is much louder than the leak, in its very harmonic."""
FLOOR = 1e-10
"""Keeps a division from nothing."""
FULL_WINDOW = np.sqrt(signal.windows.hann(WINDOW, sym=False)).astype(np.float32)


@dataclass(frozen=True)
class Prior:
    """What a filter may be before anything is heard, at one rate."""

    path: Samples
    """The likeliest, shape (taps,)."""
    deviations: Samples
    """Standard deviation of each tap, shape (taps,)."""
    before: int
    """The tap of the direct sound."""


def prior(gain: float, rate_hz: float) -> Prior:
    """A loudspeaker in a room, the direct sound of this gain."""
    before = round(BEFORE_S * rate_hz)
    time_s = (np.arange(before + round(TAIL_S * rate_hz)) - before) / rate_hz
    sounds = time_s > -0.0005
    after_s = np.maximum(time_s, 0.0)
    variances = np.zeros(time_s.size)
    for share, rt60_s in ((TAIL_SHARE, TAIL_RT60_S), (EARLY_SHARE, EARLY_RT60_S)):
        dying = np.where(sounds, 10 ** (-6 * after_s / rt60_s), 0.0)
        variances += share * dying / dying.sum()
    direct = np.exp(-0.5 * (time_s * rate_hz / DIRECT_SPREAD) ** 2)
    variances += direct / direct.sum() + 1e-8
    deviations = (gain * np.sqrt(variances)).astype(np.float32)
    return Prior(np.zeros_like(deviations), deviations, before)


class PathFit:
    """The filter between what was played and what was heard in one stretch."""

    def __init__(self, played: Samples, heard: Samples, expected: Prior, path: Samples) -> None:
        """played begins `taps - 1 - before` samples before heard and ends `before` after it; path
        is the filter to begin with."""
        taps = expected.deviations.size
        self._deviations = expected.deviations
        self._middle = expected.path
        self._ahead = taps - 1
        self._heard = heard
        self._size = fft.next_fast_len(played.size + taps, real=True)
        self._played = fft.rfft(played, self._size)
        self._scaled = (path - self._middle) / self._deviations
        left = self.left
        power, leaked = power_about(spectra(left)), power_about(spectra(self.leak))
        times = power / np.maximum(leaked, np.float32(FLOOR))
        power *= np.clip(COHERENT * times, COHERENT, MOST_COHERENT) / np.float32(WINDOW / 2)
        self._weights = 1 / (power + np.float32(FLOOR))
        self._rest = self._gathered(left) - self._scaled
        self._way = self._rest
        self._energy = float(self._rest @ self._rest)

    @property
    def path(self) -> Samples:
        """The filter so far, shape (taps,)."""
        return self._middle + self._deviations * self._scaled

    @property
    def leak(self) -> Samples:
        """What the filter makes of what was played; shape of heard."""
        return self._through(self.path)

    @property
    def left(self) -> Samples:
        """What was heard without it."""
        return self._heard - self.leak

    def step(self) -> None:
        """One step of conjugate gradients."""
        if self._energy == 0.0:
            return
        turned = self._gathered(self._through(self._deviations * self._way)) + self._way
        length = self._energy / float(self._way @ turned)
        self._scaled = self._scaled + length * self._way
        self._rest = self._rest - length * turned
        energy = float(self._rest @ self._rest)
        self._way = self._rest + (energy / self._energy) * self._way
        self._energy = energy

    def share_of(self, change: Samples, deviation: float) -> float:
        """How much of a change of the leak, given for a unit of it, the sound still asks for; the
        deviation is how large it may be expected to be."""
        weighed = self._weighted(change)
        asked = float(weighed @ self.left)
        return asked / (float(weighed @ change) + deviation**-2)

    def _through(self, path: Samples) -> Samples:
        whole = fft.irfft(self._played * fft.rfft(path, self._size), self._size)
        return np.asarray(whole[self._ahead : self._ahead + self._heard.size], np.float32)

    def _gathered(self, sound: Samples) -> Samples:
        """The transpose of `_through`, weighted, in units of the prior's deviations."""
        placed = np.pad(self._weighted(sound), (self._ahead, 0))
        whole = fft.irfft(self._played.conj() * fft.rfft(placed, self._size), self._size)
        return np.asarray(self._deviations * whole[: self._deviations.size], np.float32)

    def _weighted(self, sound: Samples) -> Samples:
        return from_spectra(self._weights * spectra(sound), sound.size)


def spectra(sound: Samples) -> Spectra:
    """Spectra of the sound, shape (windows, WINDOW // 2 + 1)."""
    count = -(-sound.size // HOP) + WINDOW // HOP
    padded = np.pad(sound, (WINDOW - HOP, count * HOP + WINDOW - sound.size))
    windows = np.lib.stride_tricks.sliding_window_view(padded, WINDOW)[::HOP]
    return np.asarray(fft.rfft(windows * FULL_WINDOW, axis=1), np.complex64)


def power_about(of: Spectra) -> Samples:
    """Power of each cell and its neighbours, the mean; same shape."""
    power = ndimage.uniform_filter(np.abs(of) ** 2, 3, mode="nearest")
    return np.asarray(np.maximum(power, 0.0), np.float32)


def from_spectra(of: Spectra, size: int) -> Samples:
    """The sound of these spectra, shape (size,)."""
    windows = fft.irfft(of, WINDOW, axis=1) * FULL_WINDOW
    sound = np.zeros(windows.shape[0] * HOP + WINDOW, np.float32)
    for part in range(WINDOW // HOP):
        piece = windows[:, part * HOP : (part + 1) * HOP].ravel()
        sound[part * HOP : part * HOP + piece.size] += piece
    return np.asarray(sound[WINDOW - HOP :][:size] / (WINDOW / HOP / 2), np.float32)
