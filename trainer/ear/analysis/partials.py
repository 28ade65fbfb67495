"""One pitch from partials that disagree.

A flute's partials are harmonic while the tone lasts (mode locking: Fletcher & Rossing 1998, The
Physics of Musical Instruments, ch. 16, from memory). A room that swallows one of them, the strong
fundamental of a low note above all, answers there with its own mode, tens of cents off: least
squares then follow the strongest partial, though the others know better. So each partial is
measured by itself (reassigned frequency: Auger & Flandrin 1995, IEEE Trans Signal Process 43:1068,
from memory), and where the fit stands far from what they have in common, that is taken: the mean
weighted by each partial's own error and by one they share, estimated so that the differences are
just explained (Paule & Mandel 1982, J Res NBS 87:377, from memory). The shared one is the same in
hertz for each partial, as a room's is.
"""

from __future__ import annotations

import numpy as np
from scipy.fft import next_fast_len, rfft

from trainer.ear.analysis.frames import TOP_SHARE, Samples, Track
from trainer.ear.analysis.harmonic_fit import middle
from trainer.ear.analysis.order_statistics import median

PARTIALS = 6
HIGHEST_HZ = 2200.0
"""Higher partials are left out, and so are notes above C#5, whose partials differ by ten cents in
their first tenth of a second without any room (our own measurement, as FAR_OFF_CENTS)."""
WEAKEST_DB = 45.0
"""A partial so far below the strongest is none."""
LEAST_ABOVE_NOISE_DB = 10.0
"""... and one no further above what lies between the partials."""
FEWEST = 4
"""Fewer can't outvote a strong one."""
FEWEST_STRETCHED = 3
HIGHEST_STRETCHED_HZ = HIGHEST_HZ / FEWEST_STRETCHED
"""A higher note has too few partials to tell whether it is stretched."""
FAR_OFF_CENTS = 8.0
"""Nearer than this to what the partials have in common, the fit stands: a recorded note's own
partials differ by some cents in its first tenth of a second, without a room (our own measurement,
seeds 100 to 120 of tests.bench.ear.recorded, part coach)."""
SEARCH_SHARE = 0.03
"""Half a semitone to either side of where a partial should be; at least one bin."""
SEARCH_STEPS = 40
"""Halvings until the shared error stands."""
CLEAR_APART = 6
"""Bins between partials, fewer of which leave no room for what lies between them."""
MOST_SHARED_HZ2 = 1e4
LEAST_ERROR_HZ = 0.05
"""No partial is known better: it keeps one strong partial from outweighing all."""
CENTS_PER_SHARE = 1200 / np.log(2)
"""Of a small share of a frequency."""


def agreed_hz(samples: Samples, sample_rate_hz: int, hz: float) -> float:
    """What the partials of a note have in common, near `hz`; `hz` itself where it isn't far from
    that, or where there are too few of them. samples: shape (samples,), the note's steady part; of
    a long one the middle counts.
    """
    if min(HIGHEST_HZ, TOP_SHARE * sample_rate_hz) < FEWEST * hz:
        return hz
    first, end = middle(0, samples.size, sample_rate_hz)
    offs_hz, errors_hz, orders = _partials(samples[first:end], sample_rate_hz, hz)
    if orders.size < FEWEST:
        return hz
    agreed = hz + _mean(offs_hz / orders, errors_hz / orders, 1 / orders)
    return agreed if abs(1200 * np.log2(agreed / hz)) >= FAR_OFF_CENTS else hz


def stretch_cents(samples: Samples, sample_rate_hz: int, hz: float) -> tuple[float, float] | None:
    """How much a note near `hz` is stretched, and the standard error of that, both in cents.

    Partial n lies (n² - 1) times so much above n times the first, as a stiff string's does
    (Fletcher 1964, JASA 36:203). None where fewer than three partials stand clear: any two would
    agree with some stretch.
    """
    if min(HIGHEST_HZ, TOP_SHARE * sample_rate_hz) < FEWEST_STRETCHED * hz:
        return None
    offs_hz, errors_hz, orders = _partials(samples, sample_rate_hz, hz)
    if orders.size < FEWEST_STRETCHED:
        return None
    cents = CENTS_PER_SHARE / (orders * hz)
    weights = (errors_hz * cents) ** -2
    places = orders**2 - float(weights @ orders**2) / float(weights.sum())
    spread = float(weights @ places**2)
    return float((weights * places) @ (offs_hz * cents)) / spread, float(spread**-0.5)


def _partials(samples: Samples, rate: int, hz: float) -> tuple[Track, Track, Track]:
    """Of each partial that stands clear: how far it is from the multiple of `hz`, its standard
    error, both in hertz, and its order, each of shape (partials,)."""
    size = samples.size
    turn = 2 * np.pi * (np.arange(size) + 0.5) / size
    padded = next_fast_len(size, real=True)
    spectrum = rfft(samples * (0.5 - 0.5 * np.cos(turn)), padded)
    slope = rfft(samples * (np.pi / size * rate) * np.sin(turn), padded)
    strength = np.abs(spectrum)
    step_hz = rate / padded
    most = min(PARTIALS, int(min(HIGHEST_HZ, TOP_SHARE * rate) / hz))
    if hz < CLEAR_APART * step_hz:
        return np.empty(0), np.empty(0), np.empty(0)
    peaks = np.array([_peak(strength, order * hz / step_hz) for order in range(1, most + 1)])
    between = [
        _floor(strength, (order + 0.5) * hz / step_hz, hz / step_hz) for order in range(most + 1)
    ]
    noise = np.minimum(between[:-1], between[1:])
    own = strength[peaks]
    above = own / np.maximum(noise, 1e-12)
    found_hz = peaks * step_hz - np.imag(slope[peaks] / spectrum[peaks]) / (2 * np.pi)
    orders = np.arange(1, most + 1)
    clear = (above > 10 ** (LEAST_ABOVE_NOISE_DB / 20)) & (
        own > own.max() * 10 ** (-WEAKEST_DB / 20)
    )
    errors_hz = np.maximum(rate / (np.pi * size * above), LEAST_ERROR_HZ)
    return (found_hz - orders * hz)[clear], errors_hz[clear], orders[clear].astype(np.float64)


def _peak(strength: Track, place: float) -> int:
    half = max(SEARCH_SHARE * place, 1.0)
    first = int(place - half)
    return first + int(strength[first : int(place + half) + 2].argmax())


def _floor(strength: Track, middle: float, spacing: float) -> float:
    """The middle level halfway between two partials."""
    half = max(1.0, 0.15 * spacing)
    return median(strength[max(0, int(middle - half)) : int(middle + half) + 1])


def _mean(values: Track, errors: Track, shares: Track) -> float:
    """The mean of values with errors of their own and one that they share in these shares."""

    def weighed(shared: float) -> tuple[float, float]:
        weights = 1 / (errors**2 + shared * shares**2)
        mean = float(weights @ values / weights.sum())
        return mean, float(weights @ (values - mean) ** 2)

    least, most = 0.0, MOST_SHARED_HZ2
    if weighed(least)[1] <= values.size - 1:
        return weighed(least)[0]
    for _ in range(SEARCH_STEPS):
        middle = (least + most) / 2
        least, most = (middle, most) if weighed(middle)[1] > values.size - 1 else (least, middle)
    return weighed(most)[0]
