"""Where exactly a note starts, and how.

A slurred start is the moment at which the old tone gives way to the new one: both tones are fitted
where they are steady and carried on into the gap between, and the change is put where the two
together leave least unexplained. A tongued start is the rise after the tongue: in the band of
consonants where there is one, which rings little in a room, else in the whole sound.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trainer.ear.envelope import Envelope
from trainer.ear.frames import Samples
from trainer.ear.harmonics import harmonic_fit

REACH_S = 0.045
"""How far on both sides of the rough boundary a change is looked for."""
FIT_S = 0.05
FIT_AWAY_S = 0.012
SOFT_RISE_DB = 6.0
"""A rise begins this far above the bottom of its dip."""


@dataclass(frozen=True)
class Seam:
    """What stands between two sounds, or before the first: the evidence for a kind of start."""

    change_s: float | None
    """Where the old tone gives way to the new; None without an old tone."""
    rise_s: float
    """Where the level begins to rise after its lowest point."""
    burst_s: float
    """The steepest rise of the high band."""
    dip_db: float
    """Depth of the dip below the quieter side; large after silence."""
    burst_db: float
    """Height of the high band's peak above its level in the notes around."""
    gap_s: float
    """How long the level stays 6 dB below the quieter side."""


def seam(
    samples: Samples,
    sample_rate_hz: int,
    envelope: Envelope,
    rough_s: float,
    before: tuple[float, float, float] | None,
    after: tuple[float, float, float],
) -> Seam:
    """Examine the boundary near `rough_s`.

    `before` and `after`: (from_s, to_s, hz) of the sounds on both sides; no sound before: None.
    """
    low_s = max(rough_s - REACH_S, 0.0 if before is None else before[0] + 0.01)
    high_s = min(rough_s + REACH_S, after[1])
    level = envelope.between(envelope.wide_db, low_s, high_s)
    bottom = int(level.argmin())
    bottom_s = low_s + bottom * envelope.step_s
    before_db = float(np.median(envelope.between(envelope.wide_db, low_s - 0.03, low_s)))
    if before is not None:
        before_db = _loudness(envelope, before[0], before[1])
    after_db = _loudness(envelope, after[0], after[1])
    side_db = after_db if before is None else min(before_db, after_db)
    below = level < side_db - SOFT_RISE_DB
    burst_at, burst_db = _burst(envelope, low_s, high_s, before, after)
    return Seam(
        change_s=_change(samples, sample_rate_hz, rough_s, before, after),
        rise_s=_rise(envelope, bottom_s, high_s, after_db),
        burst_s=burst_at,
        dip_db=float(side_db - level[bottom]),
        burst_db=burst_db,
        gap_s=float(below.sum()) * envelope.step_s,
    )


def _loudness(envelope: Envelope, from_s: float, to_s: float) -> float:
    return float(np.percentile(envelope.between(envelope.wide_db, from_s, to_s), 70))


def _rise(envelope: Envelope, bottom_s: float, high_s: float, after_db: float) -> float:
    """The steepest rise from the bottom of the dip towards the note's level."""
    level = envelope.between(envelope.wide_db, bottom_s, high_s)
    power = 10 ** (np.minimum(level, after_db) / 20)
    if power.size < 3:
        return bottom_s
    halfway = power[0] + 0.3 * (power.max() - power[0])
    return bottom_s + float(np.argmax(power >= halfway)) * envelope.step_s


def _burst(
    envelope: Envelope,
    low_s: float,
    high_s: float,
    before: tuple[float, float, float] | None,
    after: tuple[float, float, float],
) -> tuple[float, float]:
    """Time of the steepest rise of the high band, and its peak above the notes around, in dB."""
    high = envelope.between(envelope.high_db, low_s, high_s)
    sides = [envelope.between(envelope.high_db, high_s, max(after[1], high_s + 0.01))]
    if before is not None:
        sides.append(envelope.between(envelope.high_db, before[0], max(low_s, before[0] + 0.01)))
    around_db = max(float(np.median(side)) for side in sides)
    peak = int(high.argmax())
    climb = np.diff(high[: peak + 1])
    if climb.size < 2:
        return low_s + peak * envelope.step_s, float(high[peak] - around_db)
    span = min(4, climb.size)
    steepest = int(np.convolve(climb, np.ones(span), "valid").argmax())
    at_s = low_s + (steepest + span / 2) * envelope.step_s
    return at_s, float(high[peak] - around_db)


def _change(
    samples: Samples,
    sample_rate_hz: int,
    rough_s: float,
    before: tuple[float, float, float] | None,
    after: tuple[float, float, float],
) -> float | None:
    """The most likely moment of change between two steady tones."""
    if before is None or abs(before[2] - after[2]) < 1e-3 * after[2]:
        return None
    rate = sample_rate_hz
    left_end = min(rough_s - FIT_AWAY_S, before[1])
    left = max(before[0], left_end - FIT_S)
    old = harmonic_fit(samples, round(left * rate), round(left_end * rate), before[2], rate)
    right = max(rough_s + FIT_AWAY_S, after[0])
    new = harmonic_fit(
        samples, round(right * rate), round(min(after[1], right + FIT_S) * rate), after[2], rate
    )
    if old is None or new is None:
        return None
    first = max(0, round((rough_s - REACH_S) * rate))
    end = min(samples.size, round((rough_s + REACH_S) * rate))
    x = samples[first:end].astype(np.float64)
    old_miss = np.cumsum((x - old.wave(first, end, rate)) ** 2)
    new_miss = np.cumsum((x - new.wave(first, end, rate)) ** 2)
    cost = old_miss + (new_miss[-1] - new_miss)
    return (first + int(cost.argmin())) / rate
