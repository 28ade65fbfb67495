"""When something counts as stuck: small scripted stories."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest

from demo.made_rounds import plain_round
from trainer.coach.advice import Topic
from trainer.journal.log import SessionLog
from trainer.journal.stuck import StuckTempo, open_knots, stuck_tempos
from trainer.routine.round import RoundKind

ENDING = date(2026, 11, 25)


def session(days_ago: int, *rounds: tuple[str, RoundKind, float, bool | None]) -> SessionLog:
    started = datetime.combine(ENDING - timedelta(days=days_ago), time(17), UTC)
    topics = {True: Topic.SECURE, False: Topic.EVENNESS, None: None}
    return SessionLog(
        started=started,
        rounds=tuple(
            plain_round([], started=started, seconds=30, exercise_id="ladder", title=title,
                        knot=("C5", "D5") if kind is RoundKind.KNOT else (),
                        kind=kind, tempo_bpm=tempo, topic=topics[secure])
            for title, kind, tempo, secure in rounds
        ),
    )  # fmt: skip


def climbs(days: Iterable[int], held: float, tried: float) -> list[SessionLog]:
    """Sessions in which `held` was secure and `tried` was not."""
    rounds = (("Ladder", RoundKind.CLIMB, held, True), ("Ladder", RoundKind.CLIMB, tried, False))
    return [session(day, *rounds) for day in sorted(days, reverse=True)]


def knots(*outcomes: tuple[int, bool | None]) -> list[SessionLog]:
    """Sessions of one knot round each: how many days ago, and secure or not."""
    return [session(day, ("C5–D5, slowly", RoundKind.KNOT, 50, secure)) for day, secure in outcomes]


def test_a_tempo_pushed_for_three_weeks_and_not_risen() -> None:
    logs = climbs(range(22, 40, 2), 80, 84) + climbs(range(1, 20, 2), 80, 84)
    (stuck,) = stuck_tempos(logs, ENDING)
    assert stuck == StuckTempo("ladder", stuck.articulation, 80, 80, tries=10, days=10)


@pytest.mark.parametrize(("before", "since"), [
    (climbs(range(22, 40, 2), 80, 84), climbs(range(1, 20, 2), 84, 88)),  # it rose
    (climbs(range(22, 40, 2), 80, 84), climbs((1, 3, 5, 9), 80, 84)),  # four tries
    (climbs(range(22, 40, 2), 80, 84), climbs(range(1, 20, 2), 80, 76)),  # nothing faster tried
    (climbs(range(22, 40, 2), 80, 84), climbs(range(1, 20, 2), 80, 80)),  # only what was held
    (climbs((22, 25), 80, 84), climbs(range(1, 20, 2), 80, 84)),  # four rounds before
    ([], climbs(range(1, 20, 2), 80, 84)),  # just begun
    (climbs(range(43, 60, 2), 80, 84), climbs(range(1, 20, 2), 80, 84)),  # too long ago
    (climbs(range(22, 40, 2), 80, 84), []),  # left alone
])  # fmt: skip
def test_what_is_not_stuck(before: list[SessionLog], since: list[SessionLog]) -> None:
    assert stuck_tempos(before + since, ENDING) == ()


@pytest.mark.parametrize(("days_before", "stuck"), [
    ((41, 30, 25), True), ((42, 30, 25), False),  # the first day of the three weeks before
    ((30, 25, 21), True), ((30, 25, 20), False),  # their last day
])  # fmt: skip
def test_the_three_weeks_before_are_21_days(days_before: tuple[int, ...], stuck: bool) -> None:
    """Five judged rounds are wanted in them; each of these days has two."""
    logs = climbs(days_before, 80, 84) + climbs(range(1, 20, 2), 80, 84)
    assert bool(stuck_tempos(logs, ENDING)) == stuck


def test_a_tempo_that_fell_and_is_pushed_in_vain_is_stuck() -> None:
    logs = climbs(range(22, 40, 2), 80, 84) + climbs(range(1, 20, 2), 72, 76)
    (stuck,) = stuck_tempos(logs, ENDING)
    assert (stuck.held_bpm, stuck.held_before_bpm) == (72, 80)


def test_once_is_not_held() -> None:
    """One lucky round at 100 in the last weeks doesn't count as rising."""
    lucky = session(4, ("Ladder", RoundKind.CLIMB, 100, True))
    logs = [*climbs(range(22, 40, 2), 80, 84), *climbs(range(5, 20, 2), 80, 84), lucky]
    assert [stuck.held_bpm for stuck in stuck_tempos(logs, ENDING)] == [80]


def test_a_knot_is_open_until_its_last_two_judged_rounds_were_secure() -> None:
    assert open_knots(knots((9, False), (5, True), (4, True))) == ()
    (knot,) = open_knots(knots((9, False), (5, True), (4, False)))
    assert (knot.title, knot.rounds, knot.days) == ("C5–D5", 3, 3)
    assert knot.last_day == ENDING - timedelta(days=4)
    assert open_knots(knots((9, False), (5, True), (4, True), (3, None))) == ()


def test_a_knot_met_on_one_day_or_never_judged_is_not_told() -> None:
    assert open_knots(knots((4, False), (4, False))) == ()
    assert open_knots(knots((4, None), (3, None))) == ()


def test_a_spot_put_right_in_another_exercise_is_not_open_in_the_first() -> None:
    first = knots((9, False), (5, False))
    assert open_knots(first)
    elsewhere = [
        replace(log, rounds=tuple(replace(each, exercise_id="tide") for each in log.rounds))
        for log in knots((4, True), (3, True))
    ]
    assert open_knots([*first, *elsewhere]) == ()
