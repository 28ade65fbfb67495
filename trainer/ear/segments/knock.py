"""Whether a foot tapped, or something knocked, where a note starts: it may only seem struck.

A tap has its energy below the flute's lowest note and is soon over; a tongue leaves nothing there.
"""

from __future__ import annotations

from trainer.ear.analysis.envelope import Envelope
from trainer.ear.analysis.order_statistics import median

NEAR_S = 0.06
"""No tap is looked for further from a seam."""
BEFORE_S, AFTER_S = 0.1, 0.12
"""From a tap's top to where it hasn't begun, and to where it is over."""
STANDS_OUT_DB = 12.0
UNDER_TONE_DB = 5.0
"""A knock stands out so far below 150 Hz from what was and what comes, and lies so little, if at
all, below the whole sound. Of 893 strokes beside low piano notes, short and held, a metronome's
beeps or wood blocks and of 299 beside nothing none has it, and the latter lie 13 dB and more below;
of 48 slurs heard as strokes beside taps of seven kinds 22, of 184 right strokes beside them 6. Our
own measurement; fresh takes in tests/bench/RESULTS.md."""


def knocks_at(envelope: Envelope, seam_s: float) -> bool:
    """Whether there is a knock at a seam, loud enough to be taken for a stroke."""
    from_s, to_s = seam_s - NEAR_S, seam_s + NEAR_S
    low = envelope.between(envelope.low_db, from_s, to_s)
    top_s, top_db = from_s + int(low.argmax()) * envelope.step_s, float(low.max())
    before_db = envelope.between(envelope.low_db, top_s - BEFORE_S, top_s).min()
    after_db = envelope.between(envelope.low_db, top_s, top_s + AFTER_S).min()
    sound_db = median(envelope.between(envelope.wide_db, from_s, to_s))
    stands_out = top_db - max(before_db, after_db) > STANDS_OUT_DB
    return bool(stands_out and top_db > sound_db - UNDER_TONE_DB)
