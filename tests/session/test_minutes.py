"""How long a session takes is told from this student's own, as a range."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from demo.made_rounds import plain_round
from trainer.journal.log import AskedExercise, SessionLog
from trainer.session.today import USUAL_STRETCH, usual_stretch
from trainer.session.view import Today

AT = datetime(2026, 11, 20, 8, tzinfo=UTC)


def session(day: int, minutes: float, asked: float = 4.0) -> SessionLog:
    at = AT + timedelta(days=day)
    return SessionLog(
        at,
        asked=(AskedExercise("hill", "Hill", asked), AskedExercise("left", "Left out", 30.0)),
        rounds=(plain_round([], started=at, seconds=60, exercise_id="hill", title="Hill"),),
        elapsed_s=60 * minutes,
    )


def test_what_was_left_out_took_no_time() -> None:
    taken = (8.0, 12.0, 16.0, 12.0, 12.0)
    assert usual_stretch([session(day, each) for day, each in enumerate(taken)]) == (3.0, 3.0)


def test_it_is_a_range_where_the_sessions_differ() -> None:
    low, high = usual_stretch([session(day, each) for day, each in enumerate((4, 8, 12, 16))])
    assert (low, high) == pytest.approx((1.75, 3.25))


def test_a_few_sessions_say_nothing_yet() -> None:
    assert usual_stretch([session(1, 40), session(2, 40)]) == USUAL_STRETCH


@pytest.mark.parametrize(
    ("takes", "words"),
    [
        ((3.2, 12.4), "3 to 12 minutes"),
        ((0.2, 0.4), "about 1 minute"),
        ((4.9, 5.2), "about 5 minutes"),
    ],
)
def test_the_range_in_words(takes: tuple[float, float], words: str) -> None:
    assert Today("t", "flute", 440.0, "", (), (), takes_minutes=takes).minutes_words == words
