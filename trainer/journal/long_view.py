"""Months and years of practice: how time, evenness, tempo and tuning moved.

By week, month or year. Figures come with their spread, and a trend is told only where there is
enough to tell.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median
from typing import TypeVar

from trainer.journal.bests import Best, KeyRest, bests, resting_keys
from trainer.journal.index import Index
from trainer.journal.log import RoundLog, SessionLog, judged
from trainer.journal.outline import PiecePlayed, SessionTuning, piece_of
from trainer.journal.periods import By, Period, around, periods_between
from trainer.journal.statistics import Spread, spread
from trainer.journal.technique import (
    ENOUGH_ROUNDS,
    SAME_TEMPO_SHARE,
    secure_tempo,
)
from trainer.journal.trend import Trend, trend
from trainer.music.articulations import AnyArticulation

ENOUGH_SESSIONS = 3
"""In each period, before a note's tuning counts for a trend (our own estimate)."""

ALL_KEYS = PiecePlayed(True, "all keys")

_K = TypeVar("_K", bound=Hashable)
_V = TypeVar("_V")


@dataclass(frozen=True)
class TimeSpent:
    """The practice of one period."""

    sessions: int
    days_practised: int
    minutes: float
    """From start to end of each session, rests included."""
    played_minutes: float
    """In rounds only."""
    rounds: int
    judged_rounds: int
    secure_rounds: int
    minutes_a_day: Spread | None
    """Over the days practised."""


@dataclass(frozen=True)
class PieceTrend:
    """How one key (or all together) or passage went in one articulation; a value a period."""

    piece: PiecePlayed
    articulation: AnyArticulation
    rounds: int
    evenness_ms: tuple[Spread | None, ...]
    """Of the rounds near the usual tempo only: the same fingers spread less when they go faster."""
    usual_tempo_bpm: float
    """Median over all periods."""
    evenness_trend: Trend | None
    held_bpm: tuple[float | None, ...]
    """The fastest tempo held twice in the period."""
    held_trend: Trend | None
    """Over whole periods only."""


@dataclass(frozen=True)
class NoteCourse:
    """How one note of one instrument stood in tune; a value a period."""

    instrument: str
    midi: int
    """Of the written pitch."""
    cents: tuple[Spread | None, ...]
    """Of its medians in the period's sessions; sharp is positive."""
    trend: Trend | None
    """Of the distance from true, whichever side: falling is better."""


@dataclass(frozen=True)
class LongView:
    """Practice over weeks, months or years."""

    by: By
    first_day: date
    last_day: date
    student: str
    periods: tuple[Period, ...]
    time: tuple[TimeSpent, ...]
    """One a period, as all that follows in tuples."""
    minutes_trend: Trend | None
    """Over whole periods only."""
    courses: tuple[PieceTrend, ...]
    """Most rounds first."""
    tuning: tuple[NoteCourse, ...]
    """By instrument, low to high."""
    bests: tuple[Best, ...]
    """Over the whole journal up to the last day."""
    resting_keys: tuple[KeyRest, ...]


def long_view(index: Index, by: By, first_day: date, last_day: date) -> LongView:
    """The long view of these days (both included), from an index up to date for all days.

    It begins with the week or month of the first session among them.
    """
    sessions = index.sessions(first_day, last_day)
    if sessions:
        first_day = max(first_day, around(by, min(log.day for log in sessions))[0])
    periods = periods_between(by, first_day, last_day)
    by_period = _by_period(periods, sessions, lambda log: log.day)
    time = tuple(map(_time_spent, by_period))
    return LongView(
        by=by,
        first_day=first_day,
        last_day=last_day,
        student=next((log.student for log in reversed(sessions) if log.student), ""),
        periods=periods,
        time=time,
        minutes_trend=trend(_of_whole(periods, [spent.minutes for spent in time])),
        courses=_courses(periods, by_period),
        tuning=_tuning(_by_period(periods, index.tunings(first_day, last_day), lambda t: t.day)),
        bests=bests(index, last_day),
        resting_keys=resting_keys(index.pieces(last_day), last_day),
    )


def _by_period(
    periods: Sequence[Period], items: Iterable[_V], day_of: Callable[[_V], date]
) -> list[list[_V]]:
    """The items of each period."""
    place_of = {period.last_day: place for place, period in enumerate(periods)}
    lasts = sorted(place_of)
    found: list[list[_V]] = [[] for _ in periods]
    for item in items:
        last = lasts[bisect_left(lasts, day_of(item))]
        found[place_of[last]].append(item)
    return found


def _time_spent(sessions: Sequence[SessionLog]) -> TimeSpent:
    rounds = [round_ for log in sessions for round_ in log.rounds]
    went_well = judged(rounds)
    by_day: dict[date, float] = defaultdict(float)
    for log in sessions:
        by_day[log.day] += log.lasted_s / 60
    return TimeSpent(
        sessions=len(sessions),
        days_practised=len(by_day),
        minutes=sum(by_day.values()),
        played_minutes=sum(log.played_s for log in sessions) / 60,
        rounds=len(rounds),
        judged_rounds=len(went_well),
        secure_rounds=sum(went_well),
        minutes_a_day=spread(list(by_day.values())),
    )


def _of_whole(periods: Sequence[Period], values: Sequence[float | None]) -> list[float | None]:
    """The values of whole periods: what adds up, or is the best of many, is less in part of one."""
    return [value if period.whole else None for period, value in zip(periods, values, strict=True)]


def _courses(
    periods: Sequence[Period], by_period: Sequence[Sequence[SessionLog]]
) -> tuple[PieceTrend, ...]:
    rounds = [
        ((piece, round_.articulation), place, round_)
        for place, sessions in enumerate(by_period)
        for log in sessions
        for round_ in log.rounds
        if (piece := piece_of(round_)) is not None
    ]
    by_piece = _in_columns(rounds, len(by_period)) | _pooled(rounds, len(by_period))
    courses = [_course(*of, periods, columns) for of, columns in by_piece.items()]
    return tuple(
        sorted(courses, key=lambda each: (-each.rounds, each.piece, str(each.articulation)))
    )


def _pooled(
    rounds: Sequence[tuple[tuple[PiecePlayed, AnyArticulation], int, RoundLog]], count: int
) -> dict[tuple[PiecePlayed, AnyArticulation], tuple[list[RoundLog], ...]]:
    """All keys together, where there are several: where keys take turns, each alone is rare."""
    keys: dict[AnyArticulation, set[PiecePlayed]] = defaultdict(set)
    for (piece, articulation), _, _ in rounds:
        if piece.scale:
            keys[articulation].add(piece)
    scales = [
        ((ALL_KEYS, articulation), place, round_)
        for (piece, articulation), place, round_ in rounds
        if piece.scale and len(keys[articulation]) > 1
    ]
    return _in_columns(scales, count)


def _in_columns(items: Iterable[tuple[_K, int, _V]], count: int) -> dict[_K, tuple[list[_V], ...]]:
    """Of each key, its items in one list a period."""
    columns: dict[_K, tuple[list[_V], ...]] = {}
    for key, place, item in items:
        columns.setdefault(key, tuple([] for _ in range(count)))[place].append(item)
    return columns


def _course(
    piece: PiecePlayed,
    articulation: AnyArticulation,
    periods: Sequence[Period],
    columns: Sequence[Sequence[RoundLog]],
) -> PieceTrend:
    usual_bpm = median(round_.tempo_bpm for rounds in columns for round_ in rounds)
    evenness = tuple(spread(list(_evenness(rounds, usual_bpm))) for rounds in columns)
    held = tuple(map(secure_tempo, columns))
    return PieceTrend(
        piece=piece,
        articulation=articulation,
        rounds=sum(map(len, columns)),
        evenness_ms=evenness,
        usual_tempo_bpm=usual_bpm,
        evenness_trend=trend(_medians(evenness, ENOUGH_ROUNDS)),
        held_bpm=held,
        held_trend=trend(_of_whole(periods, held)),
    )


def _evenness(rounds: Sequence[RoundLog], usual_bpm: float) -> Iterator[float]:
    for round_ in rounds:
        near = abs(round_.tempo_bpm / usual_bpm - 1) <= SAME_TEMPO_SHARE
        if near and round_.measures and round_.measures.evenness_ms is not None:
            yield round_.measures.evenness_ms


def _medians(spreads: Sequence[Spread | None], enough: int) -> list[float | None]:
    """The medians of periods with enough values."""
    return [each.median if each and each.count >= enough else None for each in spreads]


def _tuning(by_period: Sequence[Sequence[SessionTuning]]) -> tuple[NoteCourse, ...]:
    cents = [
        ((tuning.instrument, midi), place, value)
        for place, tunings in enumerate(by_period)
        for tuning in tunings
        for midi, value in tuning.cents
    ]
    columns = _in_columns(cents, len(by_period))
    return tuple(_note_course(*note, columns[note]) for note in sorted(columns))


def _note_course(instrument: str, midi: int, columns: Sequence[Sequence[float]]) -> NoteCourse:
    cents = tuple(map(spread, columns))
    off = [None if each is None else abs(each) for each in _medians(cents, ENOUGH_SESSIONS)]
    return NoteCourse(instrument, midi, cents, trend(off))
