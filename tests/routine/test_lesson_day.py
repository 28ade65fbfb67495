"""When the lesson is, and how the days before it are told."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from trainer.routine.lesson_day import lesson_day, lesson_words, next_lesson
from trainer.routine.load import read_routine

MONDAY = date(2026, 11, 23)
ROUTINE = "title: T\n{line}\nexercises:\n- scale: s\n  key: D\n"


@pytest.mark.parametrize("typed", ["Thursday", "thursdays", "thu", " Thurs "])
def test_a_day_of_the_week_may_be_written_as_one_says_it(typed: str) -> None:
    assert lesson_day(typed) == "Thursday"


@pytest.mark.parametrize("typed", ["", "soon", "th", "2026-13-01", "sday"])
def test_anything_else_is_no_day(typed: str) -> None:
    assert lesson_day(typed) is None


def test_every_day_of_a_year_leads_to_the_next_lesson() -> None:
    for day in (MONDAY + timedelta(days=each) for each in range(366)):
        found = next_lesson("Thursday", day)
        assert found is not None
        assert found.isoweekday() == 4  # ISO 8601: Thursday is the fourth day
        assert 0 <= (found - day).days < 7


def test_a_date_is_led_to_and_then_no_longer_spoken_of() -> None:
    asked = lesson_day("2026-11-26")
    said = [lesson_words(asked, "C5–D5, one breath.", MONDAY + timedelta(days=n)) for n in range(5)]
    assert said == [
        "Lesson in 3 days: C5–D5, one breath.",
        "Lesson in 2 days: C5–D5, one breath.",
        "Lesson tomorrow: C5–D5, one breath.",
        "Lesson today: C5–D5, one breath.",
        "",
    ]
    assert lesson_words("Tuesday", "", MONDAY) == "Lesson tomorrow."
    assert lesson_words(None, "C5–D5", MONDAY) == ""


def test_a_routine_says_when_and_what_for() -> None:
    line = "lesson: Thursdays\nfor the lesson: C5–D5 in one breath"
    routine, problems = read_routine(ROUTINE.format(line=line), "t.yaml")
    assert routine is not None, problems
    assert (routine.lesson, routine.for_the_lesson) == ("Thursday", "C5–D5 in one breath")
    wrong, problems = read_routine(ROUTINE.format(line="lesson: next time"), "t.yaml")
    assert wrong is None
    assert "'next time' is no day" in problems[0].sentence()
