"""What was heard of the player past a partner that came back through the microphone.

What is left of the partner once it is taken out looks like a player where nobody plays. By
`tests/bench/leak.py` with the player silent it is 9 to 27 dB softer in the median than what was
taken out, and a player ten decibels above the partner 10 dB louder or more.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from statistics import median

from trainer.ear.heard import HeardNote, State

NOBODY_DB = -6.0
"""A take whose notes are in the median softer than the partner by more than this has no player in
it, or one that can't be told from what is left."""
LEFT_DB = -14.0
"""A single note that is so much softer than the partner beside it can't be told from that."""
EXTRA_DB = 3.0
"""A note nobody asked for is the player's only where it is louder than the partner by this."""

PartnerDb = Callable[[float, float], float | None]
"""How loud the partner was between two moments; None where none was played."""


def past_partner(notes: Sequence[HeardNote], partner_db: PartnerDb) -> list[HeardNote]:
    """The notes without those that may be the partner's: none was heard where nobody played; else
    expected ones are not judged, and others are gone."""
    above = [_above_db(note, partner_db) for note in notes]
    heard = list(zip(notes, above, strict=True))
    sounding = [db for note, db in heard if note.index is not None and db is not None]
    if sounding and median(sounding) < NOBODY_DB:
        asked = (note for note in notes if note.index is not None)
        return [HeardNote(note.index, note.expected, State.MISSED) for note in asked]
    unsure = {note.index for note, db in heard if db is not None and db < LEFT_DB}
    unsure |= {note.instead_of for note, db in heard if _is_the_partners(note, db)}
    return [
        HeardNote(note.index, note.expected, State.NOT_JUDGED)
        if note.index is not None and note.index in unsure
        else note
        for note, db in heard
        if not _is_the_partners(note, db)
    ]


def _is_the_partners(note: HeardNote, above_db: float | None) -> bool:
    """Whether a note that nobody asked for may well be what is left of the partner."""
    return note.index is None and above_db is not None and above_db < EXTRA_DB


def _above_db(note: HeardNote, partner_db: PartnerDb) -> float | None:
    """How much louder a note was than the partner beside it; None for one that did not sound."""
    if note.level_db is None or note.onset_s is None or note.end_s is None:
        return None
    beside_db = partner_db(note.onset_s, note.end_s)
    return None if beside_db is None else note.level_db - beside_db
