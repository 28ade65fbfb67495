"""Every note's own habit of this flute and this player, over months.

The notes of one session share its air, its room and where the headjoint stood. So what a session
has in common is taken out first; what is left is the note's own, against the player's own middle.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

from trainer.journal.index import Index
from trainer.journal.outline import SessionTuning
from trainer.journal.statistics import Spread, spread

MONTHS = timedelta(days=182)
"""How far back a card looks unless told otherwise: half a year, so that an old habit fades from it
(our own estimate)."""
ENOUGH_DAYS = 3
"""Days on which a note was heard before the card speaks of it (common practice, no source)."""
HABIT_CENTS = 5.0
"""From how far off a note has a habit: about what a listener can just notice (HyperPhysics, 'Just
noticeable difference in pitch', from a copy: about 5 cents)."""
_SWEEPS = 10
"""Of the median polish; it hardly moves after three or four."""


@dataclass(frozen=True)
class NoteHabit:
    """One note over all days on which it was heard."""

    midi: int
    """Of the written pitch."""
    cents: Spread
    """Of the days, against the player's own middle; sharp is positive."""

    @property
    def out(self) -> bool:
        """Far enough off, and on one side on three days of four."""
        same_side = self.cents.low * self.cents.high > 0
        return same_side and abs(self.cents.median) >= HABIT_CENTS

    @property
    def wanders(self) -> bool:
        """Near on the whole, but far off on every other day, now sharp and now flat."""
        widest = max(-self.cents.low, self.cents.high)
        return not self.out and widest >= 2 * HABIT_CENTS


@dataclass(frozen=True)
class TuningCard:
    """One instrument's notes, low to high."""

    instrument: str
    first_day: date
    last_day: date
    """Of the sessions heard."""
    sessions: int
    middle_cents: float
    """Where the player's own middle lay against the tuning in force, in the middle session."""
    notes: tuple[NoteHabit, ...]


def tuning_cards(index: Index, first: date, last: date) -> tuple[TuningCard, ...]:
    """A card for each instrument heard on these days, both included; the one heard most first."""
    by_instrument: dict[str, list[SessionTuning]] = defaultdict(list)
    for tuning in index.tunings(first, last):
        if tuning.cents:
            by_instrument[tuning.instrument].append(tuning)
    cards = (_card(name, each) for name, each in by_instrument.items())
    return tuple(sorted(cards, key=lambda card: (-card.sessions, card.instrument)))


def _card(instrument: str, sessions: Sequence[SessionTuning]) -> TuningCard:
    rows = [dict(each.cents) for each in sessions]
    middles = _middles(rows)
    left: dict[int, dict[date, list[float]]] = defaultdict(lambda: defaultdict(list))
    for session, row, middle in zip(sessions, rows, middles, strict=True):
        for midi, cents in row.items():
            left[midi][session.day].append(cents - middle)
    habits = (
        NoteHabit(midi, found)
        for midi, days in sorted(left.items())
        if len(days) >= ENOUGH_DAYS
        and (found := spread([median(each) for each in days.values()])) is not None
    )
    days = [session.day for session in sessions]
    return TuningCard(
        instrument, min(days), max(days), len(sessions), median(middles), tuple(habits)
    )


def _middles(rows: Sequence[dict[int, float]]) -> list[float]:
    """Each session's middle: what its notes share once each note's own cents, whose median is 0,
    are taken out. A median polish (Tukey 1977, Exploratory Data Analysis, ch. 11), so that a
    session of high notes alone has no other middle than a whole one."""
    own = dict.fromkeys((midi for row in rows for midi in row), 0.0)
    middles = [0.0] * len(rows)
    for _ in range(_SWEEPS):
        middles = [median(cents - own[midi] for midi, cents in row.items()) for row in rows]
        own = {
            midi: median(
                row[midi] - middle for row, middle in zip(rows, middles, strict=True) if midi in row
            )
            for midi in own
        }
        shared = median(own.values())
        own = {midi: cents - shared for midi, cents in own.items()}
        middles = [middle + shared for middle in middles]
    return middles
