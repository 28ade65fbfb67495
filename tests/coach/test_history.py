"""What earlier days change: what is news, what comes back, what load is wise."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from trainer.coach.advice import Topic
from trainer.coach.history import RETURN_DAYS, History, OldKnot, PastDay, PastRound, load_caution
from trainer.coach.judge import judge
from trainer.coach.words import advise
from trainer.music.note import Articulation
from trainer.music.pitch import Pitch
from trainer.routine.round import Round, RoundKind

TODAY = date(2026, 3, 20)
SCALE = "scale of the day"
MINUTES = 20.0


def past(days_ago: int, *topics: Topic, minutes: float = MINUTES, **more: Any) -> PastDay:
    rounds = tuple(PastRound(SCALE, RoundKind.TECHNIQUE, 72.0, topic, **more) for topic in topics)
    return PastDay(TODAY - timedelta(days=days_ago), 60 * minutes, rounds)


def after(*days: PastDay) -> History:
    return History(TODAY, tuple(sorted(days, key=lambda day: day.day)))


def test_what_was_said_on_most_of_the_last_days_is_known() -> None:
    high, rushing = Topic.TUNING_HIGH, Topic.RUSHING
    history = after(past(4, high), past(3, high, rushing), past(2, rushing), past(1, high))
    assert history.known(SCALE) == {high}
    assert not history.known("another exercise")


def test_what_is_known_goes_after_what_is_new(
    rounds: Callable[..., Round], takes: Callable[..., Any], faults: dict[str, Any]
) -> None:
    """A sharp top and a lagging tempo together: the one of the last days makes room."""
    both = replace(faults["sharp top"], tempo_change=-0.09)
    round_ = rounds("D", 72, Articulation.SLURRED)
    take = takes(round_, 1, both, slips=False)
    marks = judge(round_, take)
    first = advise(round_, take, marks).topic
    (other,) = {Topic.TUNING_HIGH, Topic.DRAGGING} - {first}
    history = after(*(past(day, first) for day in range(1, 5)))
    said = advise(round_, take, marks, (), history)
    assert said.topic is other
    again = advise(round_, take, marks, (), after(*(past(d, first, other) for d in range(1, 5))))
    assert again.topic is first
    assert any(line.startswith("not new") for line in again.evidence)


def test_a_habit_gone_is_told_as_a_fact_without_praise(
    rounds: Callable[..., Round], takes: Callable[..., Any]
) -> None:
    round_ = rounds("D", 72, Articulation.SLURRED)
    take = takes(round_, 3, slips=False)
    history = after(*(past(day, Topic.RUSHING) for day in range(1, 5)))
    advice = advise(round_, take, judge(round_, take), (), history)
    assert advice.topic is Topic.SECURE
    assert "not heard this time, though on most of your last days: rushing" in advice.evidence


def test_a_tendency_is_learned_from_the_player() -> None:
    days = [past(day, Topic.SECURE, cents={"C7": 20.0 + day}) for day in range(1, 4)]
    assert after(*days).usual_cents(Pitch.parse("C7")) == 22.0
    assert after(*days[:2]).usual_cents(Pitch.parse("C7")) is None
    assert after(*days).usual_cents(Pitch.parse("B6")) is None


def test_what_the_student_disagrees_with_is_not_said_again(
    rounds: Callable[..., Round], takes: Callable[..., Any], faults: dict[str, Any]
) -> None:
    round_ = rounds("D", 72, Articulation.SLURRED)
    take = takes(round_, 1, faults["sharp top"], slips=False)
    marks = judge(round_, take)
    said = advise(round_, take, marks, disputed=frozenset({Topic.TUNING_HIGH}))
    assert said.topic is not Topic.TUNING_HIGH


@pytest.mark.parametrize(("smooth_days", "gap"), list(enumerate((*RETURN_DAYS, RETURN_DAYS[-1]))))
def test_an_old_knot_comes_back_after_longer_and_longer(smooth_days: int, gap: int) -> None:
    pitches = (Pitch.parse("C5"), Pitch.parse("D5"))
    knot = OldKnot(SCALE, pitches, TODAY - timedelta(days=gap), smooth_days)
    assert knot.due(TODAY)
    assert not knot.due(TODAY - timedelta(days=1))


def caution(history: History, minutes_today: float) -> str | None:
    played_s = {day.day: day.played_s for day in history.days}
    return load_caution(played_s, history.today, minutes_today)


def test_days_off_and_a_sudden_rise_are_noticed() -> None:
    """A sudden increase in load is a common trigger of injury (BAPAM; NASM-PAMA)."""
    daily = after(*(past(day, Topic.SECURE) for day in range(1, 8)))
    assert caution(daily, 22.0) is None
    assert "sudden rise" in (caution(daily, 45.0) or "")
    away = after(*(past(day, Topic.SECURE) for day in range(9, 15)))
    said = caution(away, 20.0) or ""
    assert said.startswith("8 days without the flute")
    assert "clinician" in said
    assert caution(History(TODAY), 90.0) is None


def test_no_amount_of_playing_is_called_safe() -> None:
    for off in range(1, 40):
        for minutes in (5.0, 30.0, 90.0):
            said = caution(after(past(off, Topic.SECURE)), minutes) or ""
            assert "safe" not in said


def test_secure_days_are_counted_from_the_last_one_back() -> None:
    secure, rushing = Topic.SECURE, Topic.RUSHING
    assert after(past(3, secure), past(2, secure, secure), past(1, secure)).secure_days(SCALE) == 3
    assert after(past(3, secure), past(2, secure, rushing), past(1, secure)).secure_days(SCALE) == 1
    assert after(past(2, secure), past(1, rushing)).secure_days(SCALE) == 0
    assert History(TODAY).secure_days(SCALE) == 0
