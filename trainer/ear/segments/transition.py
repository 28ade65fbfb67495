"""What stands at the seam between two notes: where one tone ends, where the next begins, and what
the tongue leaves between them.

The tones are fitted (`tone_change`); the whole sound shows burst, dip and hush.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np

from trainer.ear.analysis.envelope import Envelope
from trainer.ear.analysis.frames import Samples
from trainer.ear.analysis.order_statistics import median, quantile
from trainer.ear.segments.note_segment import OCTAVE
from trainer.ear.segments.tone_change import Side, ToneChange, tone_change

REACH_S = 0.06
"""How far on both sides of the rough boundary the seam is looked for."""
BURST_STEPS = 4
"""Milliseconds over which a burst climbs."""
HUSH_BEFORE_S, HUSH_AFTER_S = 0.06, 0.02
"""About the new tone, where the high band's valley is looked for."""
BURST_BEFORE_S = 0.035
BURST_AFTER_S = 0.008
"""A consonant is looked for from shortly before the tone's rise to its half."""


@dataclass(frozen=True)
class Transition(ToneChange):
    """The evidence for when and how a note starts: what the tones show, and the whole sound."""

    transient_s: float
    """The steepest rise of the high band."""
    transient_db: float
    """Height of that rise, from valley to peak."""
    dip_db: float
    """Depth of the whole sound's dip below the quieter side; large after silence."""
    hollow_s: float
    """How long the level stays 6 dB below the quieter side."""
    high_dip_db: float
    """How far the breath's noise falls between the notes: under a slur it goes on."""
    leap_semitones: float
    """Between the two tones, up to an octave; 0 without an old one."""
    rough_s: float
    """Where the boundary was roughly seen."""


def transition(
    samples: Samples,
    sample_rate_hz: int,
    envelope: Envelope,
    rough_s: float,
    before: Side | None,
    after: Side,
) -> Transition:
    """Examine the boundary near `rough_s`; without a sound before, only a beginning is sought."""
    low_s = max(rough_s - REACH_S, 0.0 if before is None else (before.from_s + rough_s) / 2)
    high_s = min(rough_s + REACH_S, (rough_s + after.to_s) / 2 + 0.01)
    tones = tone_change(samples, sample_rate_hz, low_s, high_s, rough_s, before, after)
    if tones is None:
        tones = _by_level(envelope, low_s, high_s)
    burst_from_s = max(low_s, tones.begin_s - BURST_BEFORE_S)
    transient_s, transient_db = _burst(
        envelope, burst_from_s, max(tones.on_s, burst_from_s) + BURST_AFTER_S
    )
    dip_db, hollow_s = _dip(envelope, low_s, high_s, before, after)
    return Transition(
        **asdict(tones),
        transient_s=transient_s,
        transient_db=transient_db,
        dip_db=dip_db,
        hollow_s=hollow_s,
        high_dip_db=_hush(envelope, tones.on_s, before, after),
        leap_semitones=0.0 if before is None else _leap(before, after),
        rough_s=rough_s,
    )


def _by_level(envelope: Envelope, low_s: float, high_s: float) -> ToneChange:
    """The rise from the bottom of the level, where no tone can be fitted."""
    level = 10 ** (envelope.between(envelope.wide_db, low_s, high_s) / 20)
    bottom = int(level.argmin())
    top = bottom + int(level[bottom:].argmax())
    span = level[bottom : top + 1]
    rise = (span - span[0]) / max(float(span[-1] - span[0]), 1e-12)
    foot, half = int(np.argmax(rise >= 0.15)), int(np.argmax(rise >= 0.5))
    step_s = envelope.step_s
    from_s = low_s + bottom * step_s
    on_s, begin_s = from_s + half * step_s, from_s + foot * step_s
    return ToneChange(None, None, on_s, begin_s, (top - bottom) * step_s, 0.0)


def _burst(envelope: Envelope, low_s: float, high_s: float) -> tuple[float, float]:
    """Time of the steepest climb of the high band, and its height from valley to peak, in dB."""
    high = envelope.between(envelope.high_db, low_s, high_s)
    if high.size < 2 * BURST_STEPS:
        return high_s, 0.0
    climb = high[BURST_STEPS:] - high[:-BURST_STEPS]
    steepest = int(climb.argmax())
    valley_db = high[max(0, steepest - 3 * BURST_STEPS) : steepest + BURST_STEPS].min()
    peak_db = high[steepest : steepest + 3 * BURST_STEPS].max()
    return low_s + (steepest + BURST_STEPS / 2) * envelope.step_s, float(peak_db - valley_db)


def _dip(
    envelope: Envelope, low_s: float, high_s: float, before: Side | None, after: Side
) -> tuple[float, float]:
    """Depth of the level's dip, and how long it stays 6 dB down."""
    level = envelope.between(envelope.wide_db, low_s, high_s)
    side_db = _loudness(envelope, after)
    if before is not None:
        side_db = min(side_db, _loudness(envelope, before))
    return float(side_db - level.min()), float((level < side_db - 6.0).sum()) * envelope.step_s


def _hush(envelope: Envelope, on_s: float, before: Side | None, after: Side) -> float:
    """Depth of the high band's valley before the new tone, below the quieter side."""
    high = envelope.high_db
    settled_s = min(after.from_s + HUSH_AFTER_S, after.to_s - 0.01)
    side_db = median(envelope.between(high, settled_s, after.to_s))
    if before is not None:
        side_db = min(side_db, median(envelope.between(high, before.from_s, before.to_s)))
    near = envelope.between(high, on_s - HUSH_BEFORE_S, on_s + HUSH_AFTER_S)
    return side_db - float(near.min())


def _leap(before: Side, after: Side) -> float:
    return float(min(OCTAVE, abs(OCTAVE * np.log2(after.hz / before.hz))))


def _loudness(envelope: Envelope, side: Side) -> float:
    return quantile(envelope.between(envelope.wide_db, side.from_s, side.to_s), 0.7)
