"""Where the time went: by day, by kind of practice, and against what the routine asked."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from trainer.journal.log import AskedExercise, RoundLog, SessionLog
from trainer.routine.round import RoundKind

DAYS_IN_WEEK = 7
"""By the calendar."""


@dataclass(frozen=True)
class DayTime:
    """One calendar day where the student was."""

    day: date
    sessions: int
    rounds: int
    minutes: float
    """From the start of each session to its end, rests included."""
    played_minutes: float
    """In rounds only."""


@dataclass(frozen=True)
class KindTime:
    """One kind of practice."""

    kind: RoundKind
    rounds: int
    played_minutes: float


@dataclass(frozen=True)
class AskedDone:
    """One exercise of the routine, on the days the routine was opened."""

    exercise_id: str
    title: str
    days_asked: int
    days_done: int
    """Days it was asked for and at least one round of it was finished."""
    minutes_asked: float | None
    """Pauses included; once a day, however often the routine was opened."""
    played_minutes: float
    """In rounds only, on all days."""
    rounds: int


def days_spent(sessions: Sequence[SessionLog], first_day: date) -> tuple[DayTime, ...]:
    """The seven days from `first_day`, those without practice too."""
    days = (first_day + timedelta(days=number) for number in range(DAYS_IN_WEEK))
    return tuple(_day_spent(day, [log for log in sessions if log.day == day]) for day in days)


def _day_spent(day: date, sessions: Sequence[SessionLog]) -> DayTime:
    return DayTime(
        day=day,
        sessions=len(sessions),
        rounds=sum(len(log.rounds) for log in sessions),
        minutes=sum(log.lasted_s for log in sessions) / 60,
        played_minutes=sum(log.played_s for log in sessions) / 60,
    )


def kinds_spent(sessions: Sequence[SessionLog]) -> tuple[KindTime, ...]:
    """The kinds that were practised, most time first."""
    seconds: dict[RoundKind, list[float]] = defaultdict(list)
    for log in sessions:
        for round_ in log.rounds:
            seconds[round_.kind].append(round_.seconds)
    kinds = (KindTime(kind, len(each), sum(each) / 60) for kind, each in seconds.items())
    return tuple(sorted(kinds, key=lambda kind: (-kind.played_minutes, kind.kind)))


def asked_and_done(sessions: Sequence[SessionLog]) -> tuple[AskedDone, ...]:
    """The exercises asked for, in the order they were first asked."""
    asked_on: dict[str, dict[date, AskedExercise]] = defaultdict(dict)
    for log in sessions:
        for asked in log.asked:
            asked_on[asked.exercise_id].setdefault(log.day, asked)
    return tuple(
        _asked_done(exercise_id, by_day, sessions) for exercise_id, by_day in asked_on.items()
    )


def _asked_done(
    exercise_id: str, asked_on: dict[date, AskedExercise], sessions: Sequence[SessionLog]
) -> AskedDone:
    played: list[tuple[date, RoundLog]] = [
        (log.day, round_)
        for log in sessions
        for round_ in log.rounds
        if round_.exercise_id == exercise_id
    ]
    minutes = [asked.minutes for asked in asked_on.values() if asked.minutes is not None]
    latest = list(asked_on.values())[-1]
    return AskedDone(
        exercise_id=exercise_id,
        title=latest.title or exercise_id,
        days_asked=len(asked_on),
        days_done=len(asked_on.keys() & {day for day, _ in played}),
        minutes_asked=sum(minutes) if minutes else None,
        played_minutes=sum(round_.seconds for _, round_ in played) / 60,
        rounds=len(played),
    )
