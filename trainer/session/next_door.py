"""Sound that may be somebody's next door: before or after the round, or from further away than the
player, in a round in which the player was silent."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from statistics import median

from trainer.ear.alignment.heard_notes import FAINT_DB
from trainer.ear.heard import HeardNote, State, Take
from trainer.figures.enough import ENOUGH_SHARE
from trainer.music.note import Start
from trainer.routine.round import Round

SOFTER_DB = 10.0
"""What is hardly as asked, and in the median so much softer than the player usually is, is somebody
else's: twice as soft to the ear (Stevens 1955, J Acoust Soc Am 27:815)."""
NEARER_DB = 3.0
"""What is left aside may be the player all the same, further away: each such round counts for so
much. Our own choice."""


def is_as_loud_as_usual(round_: Round) -> bool:
    """Whether every note sounds with a tone, as loud as the player likes; air without a tone is
    easily 20 dB softer, and so may be what is asked for softly."""
    return (
        not round_.manner.loudness
        and round_.manner.swell is None
        and all(
            note.dynamic is None and note.hairpin is None and note.start is not Start.SILENT_AIR
            for note in round_.notes
        )
    )


def players_level_db(take: Take) -> float | None:
    """The median level of the notes heard of those asked for, dB re full scale; None for none."""
    return _middle_db(take.expected_notes)


def softest_db(before_db: float | None) -> float:
    """What is softer is far softer than the player was before, dB re full scale; before_db as for
    `as_the_players`."""
    return -math.inf if before_db is None else before_db - FAINT_DB


def within_the_round(take: Take, seconds: float) -> Take:
    """The take without what nobody asked for and began before the first beat, or when the last note
    was over: somebody next door, or the player trying a note. seconds: how long the round is."""
    ends_s = (note.end_s for note in take.expected_notes if note.end_s is not None)
    over_s = max((take.first_beat_s + seconds, *ends_s))
    return replace(
        take,
        notes=tuple(
            note
            for note in take.notes
            if note.index is not None
            or note.instead_of is not None
            or note.onset_s is None
            or take.first_beat_s <= note.onset_s < over_s
        ),
    )


def as_the_players(take: Take, before_db: float | None) -> Take:
    """The take; nothing of it where it is far softer than the player was before, or softer and
    hardly what was asked: that may be somebody next door, or the player, very soft.

    before_db: the player's usual level, as the sound check or the last round has it that was as
    loud as usual (`level_after_db`); None where it isn't known, and for a round that may be softer
    than usual.
    """
    if not _is_somebody_elses(take, before_db):
        return take
    return replace(
        take,
        notes=tuple(
            HeardNote(note.index, note.expected, State.NOT_JUDGED) for note in take.expected_notes
        ),
    )


def level_after_db(take: Take, before_db: float | None) -> float | None:
    """The player's usual level when this take is over: that of one that was as asked, else what it
    was before, or nearly. None after one that was as asked and far softer all the same: a
    microphone turned down costs that one round."""
    elses = _is_somebody_elses(take, before_db)
    if _is_as_asked(take):
        return None if elses else players_level_db(take)
    return before_db - NEARER_DB if before_db is not None and elses else before_db


def _is_somebody_elses(take: Take, before_db: float | None) -> bool:
    level_db = _middle_db(take.notes)
    if before_db is None or level_db is None:
        return False
    return before_db - level_db >= (FAINT_DB if _is_as_asked(take) else SOFTER_DB)


def _is_as_asked(take: Take) -> bool:
    """Whether most of what was asked sounded, and little else."""
    asked, sounded = len(take.expected_notes), sum(note.midi is not None for note in take.notes)
    return 2 * take.count(State.PLAYED) >= ENOUGH_SHARE * (asked + sounded)


def _middle_db(notes: Iterable[HeardNote]) -> float | None:
    levels = [note.level_db for note in notes if note.level_db is not None]
    return median(levels) if levels else None
