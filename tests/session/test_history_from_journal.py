"""From journal logs to the coach's history."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from demo.made_rounds import plain_round
from trainer.coach.advice import Topic
from trainer.figures.round_measures import RoundMeasures
from trainer.journal.log import NoteLog, RoundLog, SessionLog
from trainer.routine.round import RoundKind
from trainer.session.history_from_journal import history_of

TODAY = date(2026, 3, 20)


def session(days_ago: int, *rounds: RoundLog) -> SessionLog:
    started = datetime(2026, 3, 20, 8, tzinfo=UTC) - timedelta(days=days_ago)
    return SessionLog(started, rounds=tuple(replace(r, started=started) for r in rounds))


def a_round(
    kind: RoundKind = RoundKind.TECHNIQUE,
    topic: Topic = Topic.SECURE,
    title: str = "D major",
    tempo_bpm: float = 72.0,
    exercise_id: str = "scale",
    cents: float = 4.0,
    knot: tuple[str, ...] = (),
) -> RoundLog:
    return plain_round(
        [NoteLog("D5", cents=cents), NoteLog("E5", cents=cents)],
        started=datetime(2026, 3, 1, tzinfo=UTC),
        seconds=60.0,
        exercise_id=exercise_id,
        title=title,
        kind=kind,
        knot=knot,
        tempo_bpm=tempo_bpm,
        topic=topic,
    )


def test_days_are_told_apart_and_today_is_no_history() -> None:
    history = history_of(
        [session(0, a_round()), session(2, a_round(), a_round()), session(1, a_round())], TODAY
    )
    assert [day.day for day in history.days] == [date(2026, 3, 18), date(2026, 3, 19)]
    assert [day.played_s for day in history.days] == [120.0, 60.0]
    assert history.days[0].rounds[0].cents == {"D5": 4.0, "E5": 4.0}


def test_a_knot_is_remembered_with_how_it_ended() -> None:
    rough = a_round(RoundKind.KNOT, Topic.BLIP, "C#5–D5, slowly", knot=("C#5", "D5"))
    smooth = a_round(RoundKind.KNOT, Topic.SECURE, "up in tempo", knot=("C#5", "D5"))
    (knot,) = history_of([session(3, rough, smooth)], TODAY).knots
    assert [str(pitch) for pitch in knot.pitches] == ["C#5", "D5"]
    assert (knot.last, knot.smooth_days) == (date(2026, 3, 17), 1)
    (knot,) = history_of([session(3, smooth), session(1, smooth)], TODAY).knots
    assert knot.smooth_days == 2
    (knot,) = history_of([session(3, smooth), session(1, smooth, rough)], TODAY).knots
    assert knot.smooth_days == 0
    assert history_of([session(1, rough)], TODAY).knots_due("scale")


def test_a_knot_whose_notes_are_not_known_does_not_come_back() -> None:
    odd = a_round(RoundKind.KNOT, Topic.SECURE, "C#5–D5, slowly")
    assert history_of([session(1, odd)], TODAY).knots == ()


def test_the_last_climb_gives_its_fastest_secure_tempo() -> None:
    climb = RoundKind.CLIMB
    days = [
        session(5, a_round(climb, tempo_bpm=100.0)),
        session(
            2,
            a_round(climb, tempo_bpm=80.0),
            a_round(climb, tempo_bpm=84.0),
            a_round(climb, Topic.EVENNESS, tempo_bpm=92.0),
        ),
    ]
    assert history_of(days, TODAY).climbed_bpm == {"scale": 84.0}


def test_the_longest_breath_is_kept_day_by_day() -> None:
    measures = RoundMeasures(2, 0, 0)
    whole = replace(a_round(RoundKind.BREATH), measures=measures)
    broken = replace(whole, breaths_s=((10.0, 10.5), (40.0, 40.5)))
    history = history_of([session(4, broken), session(1, whole)], TODAY)
    assert [seconds for _, seconds in history.breaths("scale")] == [29.5, 60.0]


def test_sessions_by_hand_without_topics_are_taken_as_they_are() -> None:
    plain = replace(a_round(), topic="my own words", measures=None)
    history = history_of([session(1, plain)], TODAY)
    assert history.days[0].rounds[0].topic is None
    assert history.days[0].rounds[0].longest_breath_s is None
