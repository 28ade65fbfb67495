"""What a single note counts as: right or wrong, clean or not.

Taken from what the ear says of the note, so that a note kept in the journal counts the same.
"""

from __future__ import annotations

from trainer.ear.heard import WRONG_SEMITONES, State
from trainer.music.note import Start

WRONG_CENTS = 100 * WRONG_SEMITONES
"""The ear's own limit, in cents."""

NOTE_CENTS = 16.0
"""One named note this far from the rest of the player's notes is worth a word. Our own estimate."""

LATE_MS = 25.0
"""One note this far behind the player's own line is late: four times what a listener can notice
(6 ms, Friberg & Sundberg 1995, JASA 98:2524), and three times the spread of professional pianists'
scales, 8 to 9 ms (Jabusch 2006, IMMM Hannover, C major at 125 ms a note). Our own estimate."""

LATE_SPREADS = 3.0
"""... and this many of the player's own ordinary spreads, so that a wide spread isn't called a late
note. Our own estimate."""


def is_far_off(cents: float | None) -> bool:
    """Whether another note than the one asked for was sounding: beyond WRONG_CENTS of it."""
    return cents is not None and abs(cents) > WRONG_CENTS


def is_right(state: State, cents: float | None) -> bool:
    """Whether the note asked for was played; `cents` against the tuning in force, None where no
    pitch was measured, as in silent air."""
    return state is State.PLAYED and not is_far_off(cents)


def is_clean(state: State, cents: float | None, *, blip: bool) -> bool:
    """Whether the note was right, and came without a false note before it.

    Tuning and time don't count: a clean note may be sharp, or late.
    """
    return is_right(state, cents) and not blip


def is_start_unsure(start: Start | None, start_certainty: float | None) -> bool:
    """Whether a start was looked for and not heard surely enough to be said: it is not judged."""
    return start is None and start_certainty is not None


def late_limit_ms(spread_ms: float) -> float:
    """From where on a note is late; `spread_ms`: the ordinary spread of the round's places."""
    return max(LATE_MS, LATE_SPREADS * spread_ms)
