"""Where one tone ends and the next begins, by fitting both.

Both tones are fitted where they are steady and carried on into the gap between. Then the end of
the old one and the beginning of the new one are put where the two together leave least unexplained:
with least squares on a known shape this is the maximum-likelihood estimate (Kay 1993, Fundamentals
of Statistical Signal Processing: Estimation Theory, ch. 7). A room's ringing is part of the shape:
the old tone may go on more softly after its end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trainer.ear.analysis.frames import Samples, Track
from trainer.ear.analysis.harmonic_fit import HarmonicFit, harmonic_fit

GRID_S = 0.001
"""Places are tried so finely."""
FIT_S = 0.06
"""Of a tone, from which it is carried on."""
FIT_AWAY_S = 0.015
"""From the boundary: there both tones sound."""
LONGEST_GAP_S = 0.08
MOST_RINGING = 0.8
"""The most of the old tone's amplitude that a room can keep after its end."""
SMOOTH_S = 0.008
"""Window over which the new tone's growth is followed."""
SAME_HZ_SHARE = 0.01
COHERENT_BELOW = 0.06
"""Where the tones as fitted leave no more than this share unexplained, their phases are trusted."""
STROKE_GAIN = 0.025
"""Where a gap explains more than this, a stroke dips the new tone's growth: it tells too late."""
FAR_APART_HZ = 110.0
"""Nearer harmonics can't be told apart in so short a time."""
FOOT_STEPS = 15
"""A rise is carried back from its foot by no more than this."""


@dataclass(frozen=True)
class Side:
    """A sound beside the seam."""

    from_s: float
    to_s: float
    hz: float


@dataclass(frozen=True)
class ToneChange:
    """From the tone before a seam to the one after it."""

    change_s: float | None
    """Where the old tone gives way to the new one if nothing stands between; None without one."""
    off_s: float | None
    """Where the old tone ends; None without one."""
    on_s: float
    """Where the new tone has half risen."""
    begin_s: float
    """Where its rise begins, carried back from its slope."""
    rises_s: float
    """How long its rise takes."""
    gap_gain: float
    """Share of the sound that is better explained by a gap between the tones than without one."""

    @property
    def gap_s(self) -> float:
        """From the old tone's end to the new one's half rise; 0 without an old tone."""
        return 0.0 if self.off_s is None else self.on_s - self.off_s


def tone_change(
    samples: Samples,
    rate: int,
    low_s: float,
    high_s: float,
    rough_s: float,
    before: Side | None,
    after: Side,
) -> ToneChange | None:
    """The change between two times, about a rough one; None where the new tone can't be fitted.

    Without a tone before, or with one of the same pitch, only the new one's rise is followed.
    """
    new = _fit(samples, rate, max(rough_s + FIT_AWAY_S, after.from_s), after.to_s, True, after.hz)
    first, end = max(0, round(low_s * rate)), min(samples.size, round(high_s * rate))
    step = max(1, round(GRID_S * rate))
    end = first + (end - first) // step * step
    if new is None or end - first < 10 * step:
        return None
    grid_s, from_s = step / rate, first / rate
    x = samples[first:end].astype(np.float64)
    grown = new.wave(first, end, rate)
    old = None
    again = before is not None and abs(before.hz - after.hz) < SAME_HZ_SHARE * after.hz
    if before is not None and not again:
        old_end_s = min(rough_s - FIT_AWAY_S, before.to_s)
        old = _fit(samples, rate, before.from_s, old_end_s, False, before.hz)
    if old is None:
        growth = _growth(x, grown, np.zeros_like(x), rate, step)
        bottom = _bottom(x, step) if again else 0
        half, begin, rises = _rise(growth[bottom:], None)
        from_s += bottom * grid_s
        return ToneChange(
            None, None, from_s + half * grid_s, from_s + begin * grid_s, rises * grid_s, 0.0
        )
    ringing = old.wave(first, end, rate)
    change, off, on, gain, unexplained = _two_tones(x, ringing, grown, step)
    if unexplained > COHERENT_BELOW and gain < STROKE_GAIN:
        grown_at = _change_by_growth(x, old, new, rate, step)
        change = change if grown_at is None else grown_at
    _, begin, rises = _rise(_growth(x, grown, ringing, rate, step), on)
    begin = max(begin, off)
    return ToneChange(
        change_s=from_s + change * grid_s,
        off_s=from_s + off * grid_s,
        on_s=from_s + on * grid_s,
        begin_s=from_s + begin * grid_s,
        rises_s=rises * grid_s,
        gap_gain=gain,
    )


def _fit(
    samples: Samples, rate: int, from_s: float, to_s: float, early: bool, hz: float
) -> HarmonicFit | None:
    """The tone's steady part next to the seam."""
    if early:
        to_s = min(to_s, from_s + FIT_S)
    else:
        from_s = max(from_s, to_s - FIT_S)
    return harmonic_fit(samples, round(from_s * rate), round(to_s * rate), hz, rate)


def _two_tones(x: Track, old: Track, new: Track, step: int) -> tuple[int, int, int, float, float]:
    """Grid places of the change, of the old tone's end and the new one's beginning with a gap
    between them, what the gap gains, and the share left unexplained without one.

    Three stretches: the old tone; what a room keeps of it; the new tone over that.
    """
    xx, xo, xn = _sums(x * x, step), _sums(x * old, step), _sums(x * new, step)
    oo, nn, on = _sums(old * old, step), _sums(new * new, step), _sums(old * new, step)
    count = xx.size
    places = np.arange(1, count - 1)
    ends, begins = places[:, None], places[None, :]
    first = (xx - 2 * xo + oo)[ends]
    middle_xo, middle_oo = xo[begins] - xo[ends], np.maximum(oo[begins] - oo[ends], 1e-12)
    ring = np.clip(middle_xo / middle_oo, 0.0, MOST_RINGING)
    middle = xx[begins] - xx[ends] - 2 * ring * middle_xo + ring**2 * middle_oo
    rest_x, rest_n, rest_o = xo[-1] - xo[begins], on[-1] - on[begins], oo[-1] - oo[begins]
    kept = np.clip((rest_x - rest_n) / np.maximum(rest_o, 1e-12), 0.0, MOST_RINGING)
    last = (
        (xx[-1] - xx[begins])
        - 2 * (xn[-1] - xn[begins])
        + (nn[-1] - nn[begins])
        - 2 * kept * (rest_x - rest_n)
        + kept**2 * rest_o
    )
    cost = first + middle + last
    longest = round(LONGEST_GAP_S / GRID_S)
    cost = np.where((begins >= ends) & (begins - ends <= longest), cost, np.inf)
    best = int(cost.argmin())
    end, begin = divmod(best, places.size)
    without = np.diagonal(cost)
    gain = float(without.min() - cost[end, begin]) / max(float(xx[-1]), 1e-12)
    unexplained = float(without.min()) / max(float(xx[-1]), 1e-12)
    return int(places[without.argmin()]), int(places[end]), int(places[begin]), gain, unexplained


def _change_by_growth(
    x: Track, old: HarmonicFit, new: HarmonicFit, rate: int, step: int
) -> int | None:
    """Grid place at which the new tone's strongest harmonic has half grown, at any phase.

    Echoes can leave a nearly pure tone weaker than it started: its first growth counts.
    None where the tones are too close to be told apart in so short a time.
    """
    order = int(new.amplitudes.argmax()) + 1
    nearest = np.arange(1, old.amplitudes.size + 1) * old.hz - order * new.hz
    apart_hz = float(np.abs(nearest).min())
    if apart_hz < FAR_APART_HZ:
        return None
    window = max(2, round(np.clip(2.2 / apart_hz, 0.008, 0.02) * rate / step))
    time = np.arange(x.size, dtype=np.float64)
    turned = x * np.exp(-2j * np.pi * order * new.hz / rate * time)
    blocks = turned.reshape(-1, step).mean(axis=1)
    shape = np.hanning(window + 2)[1:-1]
    strong = np.abs(np.convolve(blocks, 2 * shape / shape.sum(), "same"))
    reached = strong >= 0.7 * min(new.amplitudes[order - 1], strong.max())
    first = int(reached.argmax())
    top = first + int(strong[first : first + window].argmax())
    before = float(np.median(strong[: max(1, top - 2 * window)]))
    below = np.flatnonzero(strong[: top + 1] < (before + strong[top]) / 2)
    if below.size == 0 or strong[top] < 1.5 * before:
        return None
    return int(below[-1]) + 1


def _sums(product: Track, step: int) -> Track:
    """Running sums at the grid's places, 0 first."""
    return np.concatenate([[0.0], np.cumsum(product.reshape(-1, step).sum(axis=1))])


def _growth(x: Track, new: Track, old: Track, rate: int, step: int) -> Track:
    """Amplitude of the new tone about each grid place, 1 when full; the old one fitted too."""
    half = max(1, round(SMOOTH_S * rate / step / 2))

    def around(product: Track) -> Track:
        sums = _sums(product, step)
        place = np.arange(sums.size)
        return sums[np.minimum(place + half, sums.size - 1)] - sums[np.maximum(place - half, 0)]

    nn, oo, on = around(new * new), around(old * old), around(new * old)
    xn, xo = around(x * new), around(x * old)
    ridge = 0.05
    oo, nn_ridged = oo * (1 + ridge) + 1e-12, nn * (1 + ridge) + 1e-12
    return np.asarray((xn * oo - xo * on) / np.maximum(nn_ridged * oo - on**2, 1e-12))


def _rise(growth: Track, on: int | None) -> tuple[float, float, float]:
    """Grid places of half rise and of the rise's beginning, and its length in steps.

    A raised cosine passes 0.15 after 0.25 of its length and 0.6 after 0.56.
    """
    full = growth > 0.6
    last = growth.size - 1
    top = int(full.argmax()) if on is None else on + int(full[on:].argmax())
    if not full[top]:
        top = last if on is None else on
    below = np.flatnonzero(growth[: top + 1] < 0.15)
    foot = int(below[-1]) if below.size else 0
    half = np.flatnonzero(growth[: top + 1] < 0.5)
    halfway = int(half[-1]) + 1 if half.size else foot
    rises = max(0.0, (top - foot) / 0.31)
    return float(halfway), float(foot - min(0.25 * rises, FOOT_STEPS)), rises


def _bottom(x: Track, step: int) -> int:
    """Grid place of the quietest moment: a tone struck again has its own pitch before it, which is
    no part of its rise."""
    half = max(1, round(SMOOTH_S / GRID_S / 2))
    sums = _sums(x * x, step)
    return half + int((sums[2 * half :] - sums[: -2 * half]).argmin())
