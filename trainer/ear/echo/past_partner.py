"""What was heard of the player past a partner that came back through the microphone.

What is left of the partner once it is taken out looks like a player where nobody plays. With the
player silent (simulated rooms, partners of tests/bench/leak.py) its notes were in the median 15 to
29 dB softer than what was taken out, and 7 to 15 dB louder than the median of what was left; in a
live room without direct sound 9 to 13 dB softer, which a very soft player is, too: there nothing is
decided, and headphones are advised. A player 20 dB below the usual level was 7 to 18 dB softer than
the partner, and 14 dB and more louder than what was left.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median

from trainer.ear.heard import HeardNote, State

NOBODY_DB = -13.0
"""A take whose notes are in the median softer than the partner by more than this ..."""
NEAR_LEFT_DB = 15.0
"""... and no louder than so much above what was left of it, can't be told from that."""
LEFT_DB, ONE_NEAR_LEFT_DB = -14.0, 10.0
"""Likewise of a single note."""
EXTRA_DB = 3.0
"""A note nobody asked for is the player's only where it is louder than the partner by this."""


@dataclass(frozen=True)
class PartnerHeard:
    """How the partner came back."""

    level_db: Callable[[float, float], float | None]
    """How loud between two moments, before it was taken out; None where none was played."""
    left_db: float | None
    """How much of it was left, in the median; None where that couldn't be told."""


def past_partner(notes: Sequence[HeardNote], partner: PartnerHeard) -> list[HeardNote]:
    """The notes without those that may be the partner's: expected ones are not judged, others are
    gone."""
    heard = [(note, _above_db(note, partner)) for note in notes]
    sounding = [db for note, db in heard if note.index is not None and db is not None]
    nobody = bool(sounding) and _is_left(median(sounding), partner, NOBODY_DB, NEAR_LEFT_DB)
    unsure = {
        note.index
        for note, db in heard
        if nobody or (db is not None and _is_left(db, partner, LEFT_DB, ONE_NEAR_LEFT_DB))
    }
    unsure |= {note.instead_of for note, db in heard if _is_the_partners(note, db)}
    return [
        HeardNote(note.index, note.expected, State.NOT_JUDGED)
        if note.index is not None and note.index in unsure
        else note
        for note, db in heard
        if note.index is not None or not (nobody or _is_the_partners(note, db))
    ]


def _is_left(above_db: float, partner: PartnerHeard, soft_db: float, near_db: float) -> bool:
    """Whether so soft a sound can't be told from what is left of the partner."""
    if partner.left_db is None:
        return False
    return above_db < min(soft_db, partner.left_db + near_db)


def _is_the_partners(note: HeardNote, above_db: float | None) -> bool:
    """Whether a note that nobody asked for may well be what is left of the partner."""
    return note.index is None and above_db is not None and above_db < EXTRA_DB


def _above_db(note: HeardNote, partner: PartnerHeard) -> float | None:
    """How much louder a note was than the partner beside it; None for one that did not sound."""
    if note.level_db is None or note.onset_s is None or note.end_s is None:
        return None
    beside_db = partner.level_db(note.onset_s, note.end_s)
    return None if beside_db is None else note.level_db - beside_db
