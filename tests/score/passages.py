"""A routine of one passage in G, by its notes alone."""

from __future__ import annotations

from datetime import date

from trainer.routine.load import read_routine
from trainer.routine.plan import PlannedExercise, plan
from trainer.routine.problem_report import describe

DAY = date(2026, 3, 2)


def text_of(notes: str, more: str = "", tempo: int = 60) -> str:
    """As a teacher writes it; `more`: further lines of the exercise."""
    head = f"title: T\nexercises:\n- passage: p\n  key: G\n  tempo: {tempo}\n"
    return f"{head}{more}  notes: |\n    {notes}\n"


def planned(notes: str, more: str = "", tempo: int = 60) -> tuple[PlannedExercise, ...]:
    """What a day makes of it."""
    routine, problems = read_routine(text_of(notes, more, tempo), "m.yaml")
    assert routine is not None, describe(problems)
    return plan(routine, DAY, 0)
