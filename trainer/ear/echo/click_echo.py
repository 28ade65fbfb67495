"""The trainer's own clicks in the microphone.

The way through the loudspeaker, the room and the microphone is a short linear filter, found by
least squares on differenced sound, which weighs the click above the flute's strong low harmonics.
Nothing is taken out unless the fit explains far more than the same fit at a wrong time does by
chance.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy import fft, linalg

from trainer.ear.analysis.frames import Samples, Track

FILTER_S = 0.016
"""Shorter, and what a room makes of the click above 5 kHz is taken for strokes of the tongue."""
EARLY_S = 0.002
"""The filter begins this long before the strongest likeness."""
SEARCH_S = 0.06
"""The measured round trip may be off by this much, either way."""
LONGEST_S = 0.1
"""Of the clicks."""
WRONG_TIMES_S = (0.071, 0.113)
"""Shifts at which no click was: what fits there fits by chance."""
FEWEST = 3
"""Clicks that must agree."""
AGREE_S = 0.0005
TIMES_CHANCE = 3.0
"""A click is taken out when the fit explains so many times what it does at the wrong times."""


class ClickEcho:
    """What the microphone makes of the trainer's own clicks, learned from all it has heard so far.

    Only short stretches around the clicks are looked at.
    """

    def __init__(self, sample_rate_hz: int, clicks: Mapping[int, Samples]) -> None:
        """clicks: each with the sample of the take at which it was played; may be negative."""
        self._rate = sample_rate_hz
        search, taps, self._longest = (
            round(s * sample_rate_hz) for s in (SEARCH_S, FILTER_S, LONGEST_S)
        )
        self._search, self._taps, self._early = search, taps, round(EARLY_S * sample_rate_hz)
        self._wrong = [round(s * sample_rate_hz) for s in WRONG_TIMES_S]
        self.before = max(self._wrong) + search + taps
        """Samples before a click that learning from it needs."""
        self.after = self._longest + search + taps
        """Samples from a click on that learning from it needs."""
        self._clicks = clicks
        self._new = sorted(self._clicks)
        self._own = np.zeros(taps)
        self._cross = np.zeros(self.before + search + taps)
        self._found: tuple[int, Track] | None = None
        """Where the leak begins after a click's time, in samples, and its filter; None where it
        doesn't stand out from chance."""
        self.direct: tuple[float, float] | None = None
        """How many seconds after a click's time its direct sound comes, and at what gain; None
        where no click is surely heard: strokes of the tongue come on the beat too."""

    def learn(self, samples: Samples, first: int) -> None:
        """Learn from the clicks, new until now, that lie whole in a stretch of the take from sample
        `first` on; it may be negative."""
        inside = [
            at for at in self._new if first + self.before <= at <= first + samples.size - self.after
        ]
        if not inside:
            return
        self._new = [at for at in self._new if at not in inside]
        sharp = _differenced(samples)
        heard = np.stack(
            [sharp[at - first - self.before : at - first + self.after] for at in inside]
        )
        played = np.stack([_padded(_differenced(self._clicks[at]), self._longest) for at in inside])
        self._own += _correlated(played, played, 0, self._taps)
        self._cross += _correlated(heard, played, 0, self._cross.size)
        before, self._found = self._found, self._path()
        sure = len(inside) >= FEWEST or self._agrees(before)
        self.direct = self._direct() if sure else None

    def taken_out(self, samples: Samples, first: int) -> Samples:
        """The stretch of the take from sample `first` on without the clicks; same shape."""
        if self._found is None:
            return samples
        lead, path = self._found
        left = samples.copy()
        for at, click in self._clicks.items():
            begins = at + lead - first
            from_, to = max(begins, 0), min(begins + click.size + path.size - 1, samples.size)
            if to > from_:
                left[from_:to] -= np.convolve(click, path)[from_ - begins : to - begins]
        return left

    def _agrees(self, before: tuple[int, Track] | None) -> bool:
        """The clicks come when they were found to come before."""
        found = self._found
        if found is None or before is None:
            return False
        return abs(found[0] - before[0]) <= AGREE_S * self._rate

    def _direct(self) -> tuple[float, float] | None:
        if self._found is None:
            return None
        lead, path = self._found
        click = max(self._clicks.values(), key=lambda sound: float(np.sum(sound**2)))
        energy = np.sum(np.convolve(click, path) ** 2) / np.sum(click**2)
        return (lead + self._early) / self._rate, float(np.sqrt(energy))

    def _path(self) -> tuple[int, Track] | None:
        if not self._own[0] > 0:
            return None
        near = self._cross[self.before - self._search : self.before + self._search]
        lead = int(np.abs(near).argmax()) - self._search - self._early
        path, explained = self._fit(lead)
        if explained <= TIMES_CHANCE * max(self._fit(lead - wrong)[1] for wrong in self._wrong):
            return None
        return lead, path

    def _fit(self, lead: int) -> tuple[Track, float]:
        return _path(self._own, self._cross[self.before + lead :][: self._taps])


def _path(own: Track, cross: Track) -> tuple[Track, float]:
    """The least-squares filter from its correlations, and the energy that it explains."""
    ridged = own.copy()
    ridged[0] *= 1 + 1e-4
    path = np.asarray(linalg.solve_toeplitz(ridged, cross), np.float64)
    return path, float(path @ cross)


def _correlated(one: Samples, other: Samples, first_lag: int, lags: int) -> Track:
    """Correlation of rows at lags from the first on (`one` the later one), summed over rows."""
    size = fft.next_fast_len(one.shape[1] + lags + abs(first_lag), real=True)
    product = (fft.rfft(one, size) * fft.rfft(other, size).conj()).sum(axis=0)
    summed = fft.irfft(product, size)
    return np.asarray(summed[np.arange(first_lag, first_lag + lags)], np.float64)


def _differenced(samples: Samples) -> Samples:
    """The second difference: 12 dB an octave upwards, as a flute's harmonics fall."""
    return np.diff(np.nan_to_num(samples), 2, prepend=np.zeros(2, np.float32))


def _padded(samples: Samples, size: int) -> Samples:
    return np.pad(samples, (0, size - samples.size))
