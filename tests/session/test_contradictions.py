"""No two things said contradict each other, over two weeks of a few invented students.

All 300 are searched by `tests/bench/coach_blind.py`.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.bench.contradictions import of_a_session, of_a_week
from tests.bench.invented_weeks import ENDING, InventedStudent, invented_student, practise
from trainer.coach.advice import Topic
from trainer.journal.week_summary import week

FEW_DAYS = 3
"""The last practice days of a student are enough here."""


def lately(student: InventedStudent) -> InventedStudent:
    return replace(student, days=student.days[-FEW_DAYS:])


@pytest.mark.parametrize("seed", [3, 7])
def test_nothing_said_contradicts_anything_else(seed: int) -> None:
    done = practise(lately(invented_student(seed)))
    assert list(of_a_session(done.said)) == []
    assert list(of_a_week(week(done.sessions, ENDING))) == []


def test_a_contradiction_would_be_found() -> None:
    done = practise(replace(invented_student(0), habits=(), days=(13,)))
    blamed = next(each for each in done.said if each.advice.topic is Topic.SECURE)
    wrong = replace(blamed, proposal=replace(blamed.proposal, why="Too fast for today: 50 next."))
    assert list(of_a_session([wrong]))
