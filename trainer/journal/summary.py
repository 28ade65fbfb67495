"""What the long view needs of one session: small enough to keep ten years of them at hand."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from statistics import median
from typing import TypeVar

from trainer.journal.log import RoundLog, SessionLog
from trainer.journal.technique import SCALE_KINDS
from trainer.journal.tuning_map import session_medians
from trainer.music.note import Articulation
from trainer.routine.round import RoundKind

_K = TypeVar("_K")


@dataclass(frozen=True)
class KindSummary:
    """One kind of practice in a session."""

    kind: RoundKind
    rounds: int
    played_s: float


@dataclass(frozen=True)
class ScaleSummary:
    """One key in one articulation in a session."""

    key: str
    articulation: Articulation
    rounds: int
    secure_bpm: tuple[float, ...]
    """Tempo of each secure round, fastest first."""
    evenness_ms: float | None
    """Median over the rounds."""


@dataclass(frozen=True)
class TuningSummary:
    """One note of an instrument in a session."""

    instrument: str
    midi: int
    """Of the written pitch."""
    cents: float
    """Median over the session; sharp is positive."""


@dataclass(frozen=True)
class SessionSummary:
    """One session."""

    session_id: str
    student: str
    routine_title: str
    started: datetime
    """With its offset from UTC."""
    lasted_s: float
    """From start to end, rests included."""
    played_s: float
    rounds: int
    judged_rounds: int
    secure_rounds: int
    asked: int
    """Exercises asked for."""
    asked_done: int
    """Those of them with at least one round."""
    kinds: tuple[KindSummary, ...]
    scales: tuple[ScaleSummary, ...]
    tuning: tuple[TuningSummary, ...]

    @property
    def day(self) -> date:
        """The day the session counts for."""
        return self.started.date()


def session_summary(log: SessionLog) -> SessionSummary:
    """The summary of a session; holds none of the student's own words."""
    judged = [round_.secure for round_ in log.rounds if round_.secure is not None]
    asked = {each.exercise_id for each in log.asked}
    return SessionSummary(
        session_id=log.session_id,
        student=log.student,
        routine_title=log.routine_title,
        started=log.started,
        lasted_s=log.lasted_s,
        played_s=log.played_s,
        rounds=len(log.rounds),
        judged_rounds=len(judged),
        secure_rounds=sum(judged),
        asked=len(asked),
        asked_done=len(asked & {round_.exercise_id for round_ in log.rounds}),
        kinds=_kinds(log),
        scales=_scales(log),
        tuning=tuple(
            TuningSummary(instrument, midi, medians[0])
            for (instrument, midi), medians in sorted(session_medians([log]).items())
        ),
    )


def _kinds(log: SessionLog) -> tuple[KindSummary, ...]:
    by_kind = _grouped(log.rounds, lambda round_: round_.kind)
    return tuple(
        KindSummary(kind, len(rounds), sum(round_.seconds for round_ in rounds))
        for kind, rounds in sorted(by_kind.items())
    )


def _scales(log: SessionLog) -> tuple[ScaleSummary, ...]:
    scales = [round_ for round_ in log.rounds if round_.kind in SCALE_KINDS]
    by_key = _grouped(scales, lambda round_: (round_.key, round_.articulation))
    return tuple(
        _scale(key, articulation, rounds) for (key, articulation), rounds in sorted(by_key.items())
    )


def _scale(key: str, articulation: Articulation, rounds: list[RoundLog]) -> ScaleSummary:
    evenness = [
        round_.measures.evenness_ms
        for round_ in rounds
        if round_.measures and round_.measures.evenness_ms is not None
    ]
    return ScaleSummary(
        key=key,
        articulation=articulation,
        rounds=len(rounds),
        secure_bpm=tuple(sorted((r.tempo_bpm for r in rounds if r.secure), reverse=True)),
        evenness_ms=median(evenness) if evenness else None,
    )


def _grouped(
    rounds: list[RoundLog] | tuple[RoundLog, ...], key: Callable[[RoundLog], _K]
) -> dict[_K, list[RoundLog]]:
    groups: dict[_K, list[RoundLog]] = defaultdict(list)
    for round_ in rounds:
        groups[key(round_)].append(round_)
    return groups
