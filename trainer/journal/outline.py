"""A session in outline: every round with its outcome, no notes and none of the student's words.

Small enough to keep years of them at hand. Whatever counts rounds, minutes, tempo, evenness or
knots says the same of a session and of its outline.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from trainer.figures.round_measures import RoundMeasures
from trainer.journal.field_kinds import KeptFields
from trainer.journal.log import RoundLog, SessionLog
from trainer.journal.session_schema import MEASURES, ROUND, SESSION
from trainer.journal.technique import SCALE_KINDS
from trainer.journal.tuning_map import session_medians
from trainer.routine.round import RoundKind

SESSION_KEPT, ROUND_KEPT, MEASURES_KEPT = (
    tuple(field for field in fields if field.indexed) for fields in (SESSION, ROUND, MEASURES)
)
"""The fields of an outline."""


@dataclass(frozen=True)
class SessionTuning:
    """How one session stood in tune."""

    day: date
    instrument: str
    cents: tuple[tuple[int, float], ...]
    """MIDI number of the written pitch and its median over the session, low to high."""


class PiecePlayed(NamedTuple):
    """What tempos are compared within: a key's scales and arpeggios, or a passage."""

    scale: bool
    name: str
    """The key (empty where the exercises have none), or the passage's title."""


def piece_of(log: RoundLog) -> PiecePlayed | None:
    """What the round is a time through; None of kinds without a tempo to raise."""
    if log.kind in SCALE_KINDS:
        return PiecePlayed(True, log.key)
    return PiecePlayed(False, log.title) if log.kind is RoundKind.PASSAGE else None


def outline(log: SessionLog) -> SessionLog:
    """The session in outline; an outline is its own."""
    return SessionLog(**_kept(log, SESSION_KEPT), rounds=tuple(map(_round_outline, log.rounds)))


def _round_outline(log: RoundLog) -> RoundLog:
    measures = log.measures and RoundMeasures(**_kept(log.measures, MEASURES_KEPT))
    return RoundLog(**_kept(log, ROUND_KEPT), measures=measures)


def _kept(log: object, fields: KeptFields) -> dict[str, Any]:
    return {field.attribute: getattr(log, field.attribute) for field in fields}


def session_tuning(log: SessionLog) -> SessionTuning:
    """The median cents of each note of the session."""
    medians = sorted(session_medians([log]).items())
    return SessionTuning(
        log.day, log.instrument, tuple((midi, each[0]) for (_, midi), each in medians)
    )
