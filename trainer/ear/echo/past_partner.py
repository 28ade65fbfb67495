"""What was heard of the player past a partner that came back through the microphone.

What is left of the partner once it is taken out looks like a player where nobody plays. With the
player silent (simulated rooms, partners of tests/bench/leak.py) its notes were in the median 13 to
29 dB softer than what was taken out, and up to 15 dB louder than the median of what was left; in a
live room without direct sound from 5 dB softer to 3 dB louder, and 8 to 13 dB louder than what was
left. A player 20 dB below the usual level was 7 to 18 dB softer than the partner, and 14 dB and
more louder than what was left; one at the usual level 6 dB and more louder than the partner.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from statistics import median

from trainer.ear.heard import DOUBTED, HeardNote, State
from trainer.music.note import Start

NOBODY_DB = ((-13.0, 15.0), (4.0, 14.0))
"""A take whose notes are in the median no louder above the partner than the first, nor above what
was left of it than the second, can't be told from that."""
LEFT_DB = ((-14.0, 10.0),)
"""Likewise of a single note."""
EXTRA_DB = 3.0
"""A note nobody asked for is the player's only where it is louder than the partner by this ..."""
EXTRA_ABOVE_LEFT_DB, CLEAR_DB = 20.0, 13.0
"""... and than what was left of it by so much, or than the partner by so much ..."""
UNKNOWN_LEFT_DB = -3.0
"""... if no more than this was left: a player in unison is taken for what was left."""
FILLS_DB = 23.0
"""A partner less than so far below a note fills the gap before it, and a stroke sounds like a slur:
with a drone 10 and 20 dB below recorded notes 7 of 288 strokes were surely heard as slurs, without
one none of 161 (our own measurement)."""


@dataclass(frozen=True)
class PartnerHeard:
    """How the partner came back."""

    level_db: Callable[[float, float], float | None]
    """How loud between two moments, before it was taken out; None where none was played."""
    left_db: float | None
    """How much of it was left, in the median; None where that couldn't be told."""


def past_partner(
    notes: Sequence[HeardNote], partner: PartnerHeard, slurs: Collection[int]
) -> list[HeardNote]:
    """The notes without those that may be the partner's: expected ones are not judged, others are
    gone. Where the partner may have filled a gap, a slur that wasn't asked is in doubt; slurs: the
    indices of those notes that should be slurred."""
    heard = [(note, _above_db(note, partner)) for note in notes]
    sounding = [db for note, db in heard if note.index is not None and db is not None]
    nobody = bool(sounding) and _is_left(median(sounding), partner, NOBODY_DB)
    unsure = {
        note.index
        for note, db in heard
        if nobody or (db is not None and _is_left(db, partner, LEFT_DB))
    }
    extra_db = _least_extra_db(partner.left_db)
    unsure |= {note.instead_of for note, db in heard if _is_the_partners(note, db, extra_db)}
    return [
        HeardNote(note.index, note.expected, State.NOT_JUDGED)
        if note.index is not None and note.index in unsure
        else _as_far_as_heard(note, db, slurs)
        for note, db in heard
        if note.index is not None or not (nobody or _is_the_partners(note, db, extra_db))
    ]


def _as_far_as_heard(note: HeardNote, above_db: float | None, slurs: Collection[int]) -> HeardNote:
    """The note, nothing said of how it started where the partner may have made a slur of it."""
    if note.start is not Start.SLURRED or note.start_certainty is None or note.index in slurs:
        return note
    if above_db is None or above_db >= FILLS_DB:
        return note
    return replace(note, start=None, start_certainty=min(note.start_certainty, DOUBTED))


def _is_left(
    above_db: float, partner: PartnerHeard, bounds_db: Sequence[tuple[float, float]]
) -> bool:
    """Whether so soft a sound can't be told from what is left of the partner."""
    left_db = partner.left_db
    if left_db is None:
        return False
    return any(above_db < min(soft_db, left_db + near_db) for soft_db, near_db in bounds_db)


def _least_extra_db(left_db: float | None) -> float:
    """How much louder than the partner a note must be that nobody asked for."""
    if left_db is None or left_db > UNKNOWN_LEFT_DB:
        return EXTRA_DB
    return max(EXTRA_DB, min(left_db + EXTRA_ABOVE_LEFT_DB, CLEAR_DB))


def _is_the_partners(note: HeardNote, above_db: float | None, extra_db: float) -> bool:
    """Whether a note that nobody asked for may well be what is left of the partner."""
    return note.index is None and above_db is not None and above_db < extra_db


def _above_db(note: HeardNote, partner: PartnerHeard) -> float | None:
    """How much louder a note was than the partner beside it; None for one that did not sound."""
    if note.level_db is None or note.onset_s is None or note.end_s is None:
        return None
    beside_db = partner.level_db(note.onset_s, note.end_s)
    return None if beside_db is None else note.level_db - beside_db
