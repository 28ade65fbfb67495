"""What the routine holds today, and what to take care of, before the first round."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import quantiles
from types import MappingProxyType

from trainer.coach.blurred_starts import LAST_TIME, too_blurred
from trainer.coach.care import cautions_today
from trainer.coach.history import load_caution
from trainer.figures.round_measures import RoundMeasures
from trainer.journal.log import RoundLog, SessionLog
from trainer.music.instrument import instrument_named
from trainer.routine.lesson_day import lesson_words
from trainer.routine.model import Routine
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round, RoundKind
from trainer.session.since_rest import is_on_air_alone
from trainer.session.view import DoneLine, Stage, TimetableLine, Today, View

USUAL_STRETCH = (1.0, 1.6)
"""Rounds that come again, trouble spots and pauses make a session longer than its bare rounds.
Our own estimate, until a student's own sessions say."""
ENOUGH_SESSIONS = 3
"""Sessions that say how long a student takes. Our own estimate."""
LAST_SESSIONS = 10
"""Older ones don't count. Our own estimate."""
NOT_WHOLE = (RoundKind.KNOT, RoundKind.SETTLING)
"""Rounds at a tempo of their own, or at none."""


@dataclass(frozen=True)
class LastPlayed:
    """An exercise as it was left the last time."""

    key: str
    """'E flat major'; empty where it is in none."""
    tempo_bpm: float | None
    """The fastest of that day that was secure, else that of its last round; None out of time."""


def usual_stretch(sessions: Sequence[SessionLog]) -> tuple[float, float]:
    """How many times the minutes asked this student's last sessions took: the quarter below which
    they seldom fell, and the one above which they seldom rose; `sessions` oldest first."""
    stretches = [found for log in sessions if (found := _stretch(log)) is not None]
    if len(stretches) < ENOUGH_SESSIONS:
        return USUAL_STRETCH
    low, _, high = quantiles(stretches[-LAST_SESSIONS:], n=4, method="inclusive")
    return low, high


def _stretch(log: SessionLog) -> float | None:
    """Time taken against the minutes asked for what was played; None where either is unknown."""
    played = {round_.exercise_id for round_ in log.rounds}
    asked = sum(each.minutes or 0.0 for each in log.asked if each.exercise_id in played)
    return log.lasted_s / 60 / asked if asked and log.lasted_s else None


def today_of(
    routine: Routine,
    planned: Sequence[PlannedExercise],
    day: date,
    played_s: Mapping[date, float],
    from_teacher: str = "",
    last_measured: Sequence[RoundMeasures] = (),
    stretch: tuple[float, float] = USUAL_STRETCH,
    who_plays: str = "",
    last_played: Mapping[str, LastPlayed] = MappingProxyType({}),
) -> Today:
    """The day's exercises as a timetable, with the cautions they and the days before call for.

    `played_s`: how long was played on each of those days. `from_teacher`: a note to the student.
    `last_measured`: the rounds of the last session that was heard.
    `stretch`: how many times the bare rounds it takes this student, from and to.
    `last_played`: by exercise, when the routine was practised last; empty where it never was.
    """
    rounds = [round_ for exercise in planned for round_ in exercise.rounds]
    minutes = sum(exercise.minutes for exercise in planned)
    load = load_caution(played_s, day, minutes)
    return Today(
        title=routine.title,
        instrument=instrument_named(routine.instrument).name,
        a4_hz=routine.a4_hz,
        words=routine.words,
        lines=_timetable(planned, last_played),
        cautions=((load,) if load else ())
        + ((LAST_TIME,) if too_blurred(last_measured) else ())
        + cautions_today(any(is_on_air_alone(round_) for round_ in rounds)),
        from_teacher=from_teacher,
        lesson=lesson_words(routine.lesson, routine.for_the_lesson, day),
        takes_minutes=(stretch[0] * minutes, stretch[1] * minutes),
        who_plays=who_plays,
    )


def _timetable(
    planned: Sequence[PlannedExercise], last_played: Mapping[str, LastPlayed]
) -> tuple[TimetableLine, ...]:
    lines, played = [], 0.0
    for exercise in planned:
        first = exercise.rounds[0] if exercise.rounds else None
        last = last_played.get(exercise.id)
        rests = first is None and exercise.rest_s > 0
        lines.append(
            TimetableLine(
                exercise.title,
                exercise.detail,
                exercise.minutes,
                first,
                _news(first, last) if last_played else "",
                None if last is None else last.tempo_bpm,
                played if rests else None,
            )
        )
        played = 0.0 if rests else played + exercise.minutes
    return tuple(lines)


def _news(first: Round | None, last: LastPlayed | None) -> str:
    if first is None:
        return ""
    if last is None:
        return "new"
    key = first.key.name if first.key else ""
    return "new key" if key != last.key else ""


def last_played(sessions: Sequence[SessionLog], routine_file: str) -> dict[str, LastPlayed]:
    """Each exercise of a routine as it was left; `sessions`: oldest first."""
    found: dict[str, LastPlayed] = {}
    for log in sessions:
        if log.routine_file == routine_file:
            whole = [each for each in log.rounds if each.kind not in NOT_WHOLE]
            for name in dict.fromkeys(each.exercise_id for each in log.rounds):
                rounds = [each for each in whole if each.exercise_id == name]
                key = next(each.key for each in log.rounds if each.exercise_id == name)
                found[name] = LastPlayed(key, _left_at(rounds))
    return found


def _left_at(rounds: Sequence[RoundLog]) -> float | None:
    secure = [each.tempo_bpm for each in rounds if each.secure]
    return max(secure) if secure else rounds[-1].tempo_bpm if rounds else None


def first_view(
    today: Today, planned: Sequence[PlannedExercise], notices: Sequence[str] = ()
) -> View:
    """What a session shows before there is sound: the routine lies open, nothing has begun."""
    return View(
        stage=Stage.TODAY,
        today=today,
        exercise_index=0,
        round=None,
        beat=None,
        note_due=None,
        live_notes=(),
        trail=(),
        standing=None,
        take=None,
        off_beat_ms=(),
        advice=None,
        proposal=None,
        follows="",
        tempos=(),
        seconds_left=None,
        stands_still=False,
        elapsed_s=0.0,
        listens=True,
        words=planned[0].words if planned else "",
        closing=(),
        done=done_lines(planned, {}),
        notices=tuple(notices),
        journal_path="",
    )


def done_lines(
    planned: Sequence[PlannedExercise], rounds_done: Mapping[str, int]
) -> tuple[DoneLine, ...]:
    """A line for each entry of the routine; `rounds_done`: how many, by exercise."""
    return tuple(DoneLine(exercise.title, rounds_done.get(exercise.id, 0)) for exercise in planned)
