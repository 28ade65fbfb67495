"""What the routine holds today, and what to take care of, before the first round."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.coach.care import cautions_today
from trainer.coach.history import History, load_caution
from trainer.music.instrument import Instrument
from trainer.routine.model import Routine
from trainer.routine.plan import PlannedExercise
from trainer.session.since_rest import is_on_air_alone
from trainer.session.view import TimetableLine, Today


def today_of(
    routine: Routine,
    planned: Sequence[PlannedExercise],
    instrument: Instrument,
    history: History | None,
    from_teacher: str,
) -> Today:
    """The day's exercises as a timetable, with the cautions they and the days before call for."""
    rounds = [round_ for exercise in planned for round_ in exercise.rounds]
    minutes = sum(exercise.minutes for exercise in planned)
    load = load_caution(history, minutes) if history is not None else None
    return Today(
        title=routine.title,
        instrument=instrument.name,
        a4_hz=routine.a4_hz,
        words=routine.words,
        lines=tuple(_timetable_line(exercise) for exercise in planned),
        cautions=((load,) if load else ())
        + cautions_today(any(is_on_air_alone(round_) for round_ in rounds)),
        from_teacher=from_teacher,
    )


def _timetable_line(exercise: PlannedExercise) -> TimetableLine:
    first = exercise.rounds[0] if exercise.rounds else None
    return TimetableLine(exercise.title, exercise.detail, exercise.minutes, first)
