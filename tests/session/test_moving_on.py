"""What the journal remembers moves an exercise on, and only in its own routine."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

from trainer.app.begun_walk import opening_log
from trainer.app.open_session import planned_for
from trainer.journal.log import RoundLog, SessionLog
from trainer.routine.load import load_routine
from trainer.routine.model import Routine

ROUTINE = """
title: Moving on
exercises:
  - scale: scale
    key: D major
    range: one octave
    tempo: 60
    articulations: [slurred]
    aims: {cents: 15, clean: 95 %}
    progress: 4 faster when met twice, up to 72
"""
DAYS = (date(2026, 3, 2), date(2026, 3, 3))
TODAY = date(2026, 3, 4)


def _routine(folder: Path) -> Routine:
    file = folder / "moving_on.yaml"
    file.write_text(ROUTINE, encoding="utf-8")
    routine, problems = load_routine(file)
    assert routine is not None, problems
    return routine


def _practised(routine: Routine, day: date, *, secure: bool) -> SessionLog:
    started = datetime(day.year, day.month, day.day, 8).astimezone()
    (exercise,) = planned_for(routine, day, [])
    round_ = exercise.rounds[0]
    log = opening_log(routine, [exercise], started)
    played = RoundLog(
        exercise.id,
        exercise.title,
        round_.kind,
        1,
        round_.articulation,
        round_.tempo_bpm,
        started,
        seconds=30.0,
        key=str(round_.key or ""),
        secure=secure,
    )
    return replace(log, rounds=(played,))


def _tempo_bpm(routine: Routine, sessions: list[SessionLog]) -> float:
    return planned_for(routine, TODAY, sessions)[0].rounds[0].tempo_bpm


def test_met_twice_it_is_faster(tmp_path: Path) -> None:
    routine = _routine(tmp_path)
    twice = [_practised(routine, day, secure=True) for day in DAYS]
    assert _tempo_bpm(routine, []) == 60
    assert _tempo_bpm(routine, twice[:1]) == 60
    assert _tempo_bpm(routine, twice) == 64
    assert _tempo_bpm(routine, [twice[0], _practised(routine, DAYS[1], secure=False)]) == 60


def test_another_routines_exercise_of_the_same_name_is_none_of_its_own(tmp_path: Path) -> None:
    routine = _routine(tmp_path)
    twice = [_practised(routine, day, secure=True) for day in DAYS]
    elsewhere = [replace(session, routine_file="other.yaml") for session in twice]
    assert _tempo_bpm(routine, elsewhere) == 60
