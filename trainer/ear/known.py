"""Taking the trainer's own click and partner out of what the microphone heard.

The sound that was played is known to the sample; the way through the loudspeaker, the room and the
microphone is a short linear filter, found by least squares on differenced sound, which weighs the
click above the flute's strong low harmonics. Input and output share a clock here. Nothing is taken
out unless the fit explains far more than the same fit at a wrong time does by chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import fft, linalg, signal

from trainer.ear.frames import Samples, Track

FILTER_S = 0.008
SEARCH_S = 0.06
"""The measured round trip may be off by this much, either way."""
CLICK_UP_TO_S = 0.1
"""A longer known sound is the partner's tone."""
WRONG_TIMES_S = (0.083, 0.137)
TIMES_CHANCE = 3.0
"""A click is taken out when the fit explains so many times what it does at the wrong times."""
LEAST_OF_A_TONE = 0.5
"""A partner's tone is taken out only where it is most of what the microphone heard: a filter could
mistake the student's own unison for its leak."""


@dataclass(frozen=True)
class KnownSound:
    """A sound the trainer played itself."""

    samples: Samples
    at_s: float
    """When it was played, from the start of the take's samples; may be negative."""


def without_known(samples: Samples, sample_rate_hz: int, known: Sequence[KnownSound]) -> Samples:
    """The take without the known sounds, as far as they are found in it; same shape."""
    clicks, tones = clicks_and_tones(known, sample_rate_hz)
    left = without_tones(samples, sample_rate_hz, tones)
    leak = ClickLeak(sample_rate_hz, clicks)
    leak.learn(left, 0)
    return leak.taken_out(left, 0)


def clicks_and_tones(
    known: Sequence[KnownSound], sample_rate_hz: int
) -> tuple[list[KnownSound], list[KnownSound]]:
    """The short sounds and the long ones."""
    longest = round(CLICK_UP_TO_S * sample_rate_hz)
    clicks = [sound for sound in known if sound.samples.size <= longest]
    return clicks, [sound for sound in known if sound.samples.size > longest]


class ClickLeak:
    """What the microphone makes of the trainer's own clicks, learned from all it has heard so far.

    Only short stretches around the clicks are looked at.
    """

    def __init__(self, sample_rate_hz: int, clicks: Sequence[KnownSound]) -> None:
        search, taps, self._longest = (
            round(s * sample_rate_hz) for s in (SEARCH_S, FILTER_S, CLICK_UP_TO_S)
        )
        self._search, self._taps = search, taps
        self._wrong = [round(s * sample_rate_hz) for s in WRONG_TIMES_S]
        self.before = max(self._wrong) + search + taps
        """Samples before a click that learning from it needs."""
        self.after = self._longest + search + taps
        """Samples from a click on that learning from it needs."""
        self._clicks = {round(sound.at_s * sample_rate_hz): sound.samples for sound in clicks}
        self._new = sorted(self._clicks)
        self._own = np.zeros(taps)
        self._cross = np.zeros(self.before + search + taps)

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

    def taken_out(self, samples: Samples, first: int) -> Samples:
        """The stretch of the take from sample `first` on without the clicks; same shape."""
        found = self._path()
        if found is None:
            return samples
        lead, path = found
        left = samples.copy()
        for at, click in self._clicks.items():
            begins = at + lead - first
            from_, to = max(begins, 0), min(begins + click.size + path.size - 1, samples.size)
            if to > from_:
                left[from_:to] -= np.convolve(click, path)[from_ - begins : to - begins]
        return left

    def _path(self) -> tuple[int, Track] | None:
        """Where the leak begins after a click's time, in samples, and its filter; None where it
        doesn't stand out from chance."""
        if not self._own[0] > 0:
            return None
        near = self._cross[self.before - self._search : self.before + self._search]
        lead = int(np.abs(near).argmax()) - self._search - self._taps // 4
        path, explained = self._fit(lead)
        if explained <= TIMES_CHANCE * max(self._fit(lead - wrong)[1] for wrong in self._wrong):
            return None
        return lead, path

    def _fit(self, lead: int) -> tuple[Track, float]:
        return _path(self._own, self._cross[self.before + lead :][: self._taps])


def without_tones(samples: Samples, rate: int, tones: Sequence[KnownSound]) -> Samples:
    """The take without the long known sounds, where they are most of it; same shape."""
    played = np.zeros(samples.size, np.float32)
    for tone in tones:
        at = round(tone.at_s * rate)
        first, end = max(at, 0), min(at + tone.samples.size, samples.size)
        if end > first:
            played[first:end] += tone.samples[first - at : end - at]
    if not played.any():
        return samples
    search, taps = round(SEARCH_S * rate), round(FILTER_S * rate)
    sharp, sharp_played = _differenced(samples)[None], _differenced(played)[None]
    cross = _correlated(sharp, sharp_played, -search - taps, 2 * search + 2 * taps)
    lead = int(np.abs(cross[taps : taps + 2 * search]).argmax()) - search - taps // 4
    own = _correlated(sharp_played, sharp_played, 0, taps)
    path, explained = _path(own, cross[lead + search + taps :][:taps])
    if explained < LEAST_OF_A_TONE * float(np.sum(sharp.astype(np.float64) ** 2)):
        return samples
    leak = signal.fftconvolve(played, path)[: samples.size]
    return np.asarray(samples - _moved(leak, lead), np.float32)


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


def _moved(samples: Samples, by: int) -> Samples:
    """Later by so many samples, or earlier by as many as `by` is negative; same shape."""
    if by >= 0:
        return np.pad(samples, (by, 0))[: samples.size]
    return np.pad(samples[-by:], (0, -by))
