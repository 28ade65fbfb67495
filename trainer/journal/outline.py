"""A session in outline: every round with its outcome, no notes and none of the student's words.

Small enough to keep years of them at hand. Whatever counts rounds, minutes, tempo, evenness or
knots says the same of a session and of its outline.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from trainer.ear.heard import RoundMeasures
from trainer.journal.log import RoundLog, SessionLog
from trainer.journal.technique import SCALE_KINDS
from trainer.journal.tuning_map import session_medians
from trainer.routine.round import RoundKind


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
    return SessionLog(
        started=log.started,
        routine_title=log.routine_title,
        routine_file=log.routine_file,
        student=log.student,
        instrument=log.instrument,
        a4_hz=log.a4_hz,
        asked=log.asked,
        rounds=tuple(map(_round_outline, log.rounds)),
        ended=log.ended,
        elapsed_s=log.elapsed_s,
        session_id=log.session_id,
        version=log.version,
    )


def _round_outline(log: RoundLog) -> RoundLog:
    measures = log.measures and RoundMeasures(
        log.measures.played,
        log.measures.missed,
        log.measures.extra,
        evenness_ms=log.measures.evenness_ms,
    )
    return RoundLog(
        exercise_id=log.exercise_id,
        title=log.title,
        kind=log.kind,
        number=log.number,
        articulation=log.articulation,
        tempo_bpm=log.tempo_bpm,
        started=log.started,
        seconds=log.seconds,
        key=log.key,
        secure=log.secure,
        measures=measures,
    )


def session_tuning(log: SessionLog) -> SessionTuning:
    """The median cents of each note of the session."""
    medians = sorted(session_medians([log]).items())
    return SessionTuning(
        log.day, log.instrument, tuple((midi, each[0]) for (_, midi), each in medians)
    )
