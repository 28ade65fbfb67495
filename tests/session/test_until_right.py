"""A round is played again until it is right, as the teacher's rule has it."""

from __future__ import annotations

from datetime import date

import pytest

from trainer.coach.advice import Felt
from trainer.coach.history import History, OldKnot
from trainer.music.pitch import Pitch
from trainer.routine.load import read_routine
from trainer.routine.plan import PlannedExercise, plan
from trainer.routine.problem_report import describe
from trainer.routine.round import RoundKind
from trainer.session.exercise_progress import ExerciseProgress, RoundPlayed, enter, played

RIGHT, WRONG = RoundPlayed(None, Felt.FINE), RoundPlayed(None, Felt.HARD)


def planned(lines: str) -> PlannedExercise:
    text = f"title: T\nexercises:\n- scale: s\n  key: D\n  aims: {{clean: 95 %}}\n{lines}"
    routine, problems = read_routine(text, "t.yaml")
    assert routine is not None, describe(problems)
    (exercise,) = plan(routine, date(2026, 3, 2), seed=1)
    return exercise


def tempos(course: ExerciseProgress, *went: RoundPlayed) -> list[float | None]:
    """The tempo due after each round; None when the exercise is through."""
    due: list[float | None] = []
    for one in went:
        course = played(course, one)
        due.append(course.due.tempo_bpm if course.due is not None else None)
    return due


def test_three_right_in_a_row_and_it_is_done() -> None:
    course = enter(planned("  tempo: 100\n  until: three right in a row\n"))
    assert tempos(course, RIGHT, WRONG, RIGHT, RIGHT, RIGHT) == [100, 100, 100, 100, None]


def test_else_back_a_step_and_forward_again() -> None:
    course = enter(planned("  tempo: 100\n  until: two right in a row, else back a step\n"))
    went = (WRONG, RIGHT, RIGHT, RIGHT, RIGHT)
    assert tempos(course, *went) == [pytest.approx(92), 92, 100, 100, None]


def test_after_so_many_it_is_left_for_another_day() -> None:
    course = enter(planned("  until: the aims are met, at most 3 rounds\n"))
    assert tempos(course, WRONG, WRONG, WRONG)[-1] is None


def test_each_articulation_has_its_own_count() -> None:
    exercise = planned("  articulations: [slurred, double]\n  until: two right in a row\n")
    course = enter(exercise)
    for one in (RIGHT, RIGHT, RIGHT):
        course = played(course, one)
    assert course.due is not None
    assert (str(course.due.articulation), course.tries.in_a_row) == ("double", 1)


def test_the_last_trouble_spots_come_first_due_or_not() -> None:
    spots = tuple(
        OldKnot("s", (Pitch.parse(a), Pitch.parse(b)), date(2026, 3, day), smooth_days=5)
        for a, b, day in (("E5", "F#5", 1), ("G5", "A5", 28), ("B4", "C#5", 27), ("A4", "B4", 26))
    )
    history = History(date(2026, 3, 29), knots=spots)
    rounds = enter(planned("  trouble spots: 3\n"), history).pending
    knots = [round_ for round_ in rounds if round_.kind is RoundKind.KNOT]
    assert len({round_.knot for round_ in knots}) == 3
    assert spots[0].pitches not in {round_.knot for round_ in knots}
    plain = enter(planned("  tempo: 60\n"), history).pending
    assert {round_.knot for round_ in plain if round_.knot} <= {spots[0].pitches}
