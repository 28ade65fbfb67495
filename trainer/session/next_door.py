"""Sound from further away than the player, in a round in which the player was silent."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import median

from trainer.ear.alignment.heard_notes import FAINT_DB
from trainer.ear.heard import HeardNote, State, Take
from trainer.music.note import Start
from trainer.routine.round import Round


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
    levels = [note.level_db for note in take.expected_notes if note.level_db is not None]
    return median(levels) if levels else None


def softest_db(before_db: float | None) -> float:
    """What is softer is far softer than the player was in the round before, dB re full scale;
    before_db as for `as_the_players`."""
    return -math.inf if before_db is None else before_db - FAINT_DB


def as_the_players(take: Take, before_db: float | None) -> Take:
    """The take; where its notes are in the median far softer than in the round before, nothing of
    it: they may be somebody's next door, or the player's, very soft.

    before_db: the player's usual level in the last round that was as loud as usual; None where
    nothing was heard of it, as after a round that was left aside (so a microphone turned down costs
    one round), and for a round that may be softer than usual.
    """
    levels = [note.level_db for note in take.notes if note.level_db is not None]
    if not levels or median(levels) > softest_db(before_db):
        return take
    return replace(
        take,
        notes=tuple(
            HeardNote(note.index, note.expected, State.NOT_JUDGED) for note in take.expected_notes
        ),
    )
