"""Cases worked by hand: tuning by direction, knots left open, air and vibrato against last week."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from demo.made_rounds import plain_round
from trainer.coach.advice import Topic
from trainer.ear.heard import State
from trainer.journal.held_notes import AirAndVibrato
from trainer.journal.log import NoteLog, RoundLog, SessionLog
from trainer.journal.next_week import next_thing
from trainer.journal.tuning_map import NoteTuning
from trainer.journal.week_summary import Week, week
from trainer.journal.week_text import direction_words, most_apart, week_json, week_text
from trainer.music.pitch import sharp_name
from trainer.routine.round import RoundKind

from .odd_weeks import ODD, OddWeeks

ENDING = date(2026, 11, 22)
AT = datetime(2026, 11, 20, 18, 0, tzinfo=UTC)


def a_round(notes: list[NoteLog], at: datetime = AT, **facts: object) -> RoundLog:
    given = {"exercise_id": "x", "title": "x", "seconds": 60.0} | facts
    return plain_round(notes, started=at, **given)  # type: ignore[arg-type]


def week_of(*rounds: RoundLog) -> Week:
    return week([SessionLog(AT, rounds=rounds)], ENDING)


# Tuning by direction


def up_and_down(up_cents: float, down_cents: float, times: int) -> list[RoundLog]:
    """G5 reached from F5 and from A5, `times` each, a cent more or less from time to time."""
    names = ["F5", "G5", "A5", "G5", "F5"]
    return [
        a_round([
            NoteLog(name, cents=cents + (number % 3 - 1))
            for name, cents in zip(names, (0.0, up_cents, 0.0, down_cents, 0.0), strict=True)
        ])
        for number in range(times)
    ]  # fmt: skip


def g5(rounds: list[RoundLog]) -> NoteTuning:
    (tuning,) = week_of(*rounds).tuning
    return next(note for note in tuning.notes if note.written == "G5")


def test_a_note_higher_going_up_than_coming_down_is_told() -> None:
    found = week_of(*up_and_down(9, 0, 12))
    note = next(note for note in found.tuning[0].notes if note.written == "G5")
    assert note.rising is not None
    assert note.falling is not None
    assert (note.rising.median, note.rising.count) == (9, 12)
    assert (note.falling.median, note.falling.count) == (0, 12)
    assert note.apart_cents == 9
    words = "G5 is at +9 going up and 0 coming down"
    assert direction_words(note) == words
    assert f"  {words}\n" in week_text(found)


@pytest.mark.parametrize(
    ("up", "down", "times"),
    [(9, 0, 7), (4, 0, 12), (1, 0, 12)],
    ids=["too seldom", "too near", "within their spread"],
)
def test_what_may_be_chance_is_not_told(up: float, down: float, times: int) -> None:
    assert g5(up_and_down(up, down, times)).apart_cents is None


@pytest.mark.slow
def test_chance_seldom_speaks_of_a_direction() -> None:
    """A hundred weeks of a whole range without any: 40 notes, twelve times each way."""
    rng, told = random.Random(5), 0
    names = [sharp_name(midi) for midi in range(60, 100)]
    line = [*names, *names[-2::-1]]
    for _ in range(100):
        rounds = [
            a_round([NoteLog(name, cents=rng.gauss(0, 6)) for name in line]) for _ in range(12)
        ]
        told += any(note.apart_cents for note in week_of(*rounds).tuning[0].notes)
    assert told <= 3


def test_the_way_is_the_scales_not_the_players() -> None:
    """A missed note still says where the line came from; an extra one doesn't."""
    notes = [
        NoteLog("F5", State.MISSED),
        NoteLog("B5", State.EXTRA, cents=3.0),
        NoteLog("G5", cents=5.0),
        NoteLog("G5", cents=7.0),
    ]
    note = g5([a_round(notes)])
    assert note.rising is not None
    assert (note.rising.median, note.rising.count) == (5, 1)
    assert note.falling is None
    assert note.cents.count == 2, "a note repeated comes from neither side"


def test_only_the_three_most_apart_are_told() -> None:
    names = ["C5", "D5", "E5", "F5", "G5", "A5", "B5"]
    line = [*names, *names[-2::-1]]
    notes = [
        NoteLog(name, cents=float(place) * 2 if place < 6 else 0.0)
        for place, name in enumerate(line)
    ]
    (tuning,) = week_of(*(a_round(notes) for _ in range(12))).tuning
    assert [note.written for note in most_apart(tuning)] == ["A5", "G5", "F5"]


# Knots


def knot(title: str, days_ago: int, *topics: Topic) -> SessionLog:
    at = AT - timedelta(days=days_ago)
    rounds = [
        a_round(
            [NoteLog("C6")],
            at,
            title=title,
            knot=tuple(title.split(",")[0].split()),
            kind=RoundKind.KNOT,
            topic=topic,
            tempo_bpm=40,
        )
        for topic in topics
    ]
    return SessionLog(at, rounds=tuple(rounds))


def test_a_knot_left_open_the_week_before_is_not_forgotten() -> None:
    open_, secure = Topic.NOTES, Topic.SECURE
    found = week(
        [
            knot("C6 D6, slowly", 9, secure, secure, open_),
            knot("G5 A5", 8, open_, secure, secure),
            knot("E5 F5", 8, open_),
            knot("E5 F5, in rhythms", 1, secure, secure),
        ],
        ENDING,
    )
    told = [(each.title, each.rounds, each.solved, each.secure_bpm) for each in found.knots]
    assert told == [("E5–F5", 2, True, 40), ("C6–D6", 0, False, None)]
    text = week_text(found)
    assert "E5–F5 is clean now at 40" in text
    assert "C6–D6 was open last week, and not practised since" in text


def test_a_spot_stands_beside_the_week_before() -> None:
    """Two of three rounds wrong after one of four."""
    open_, secure = Topic.NOTES, Topic.SECURE
    found = week(
        [knot("C6 D6", 9, secure, open_, secure, secure), knot("C6 D6", 1, secure, open_, open_)],
        ENDING,
    )
    assert "C6–D6 went wrong 2 of 3 times, last week 1 of 4" in week_text(found)


# Habits


@pytest.mark.parametrize(("lately", "named"), [(1, False), (4, True)])
def test_a_habit_said_once_more_after_days_of_it_has_healed(lately: int, named: bool) -> None:
    """Six rounds a day: all of them on three days, none on the fourth, then so many."""
    sessions = []
    for days_ago, times in ((4, 6), (3, 6), (2, 6), (1, 0), (0, lately)):
        at = AT - timedelta(days=days_ago)
        topics = [Topic.RUSHING] * times + [Topic.SECURE] * (6 - times)
        rounds = [a_round([NoteLog("G5")], at, topic=topic) for topic in topics]
        sessions.append(SessionLog(at, rounds=tuple(rounds)))
    found = week(sessions, ENDING).findings
    assert [each.what for each in found] == ([str(Topic.RUSHING)] if named else [])


# Air and vibrato


def long_tones(day: int, drift: float, hz: float) -> SessionLog:
    at = datetime(2026, 11, day, 18, 0, tzinfo=UTC)
    note = NoteLog("A5", drift_cents=drift, vibrato_hz=hz, vibrato_cents=12.0)
    rounds = (
        replace(a_round([note], at, kind=RoundKind.LONG_TONES), breaths_s=((8, 9), (20, 21))),
        a_round([replace(note, drift_cents=99.0)], at, kind=RoundKind.TECHNIQUE),
    )
    return SessionLog(at, rounds=rounds, session_id=str(day))


def air_of(before: int, now: int) -> tuple[AirAndVibrato, str]:
    """So many evenings in each week: -9 cents and 4.6 pulses a second, then -3 and 5.2."""
    sessions = [long_tones(9 + n, -9 - n / 10, 4.6 + n / 100) for n in range(before)]
    sessions += [long_tones(16 + n, -3 - n / 10, 5.2 + n / 100) for n in range(now)]
    found = week(sessions, ENDING)
    return found.air, week_text(found)


def test_a_steadier_long_tone_is_told_against_the_week_before() -> None:
    air, text = air_of(6, 6)
    assert air.held_drift_cents is not None
    assert (air.held_drift_cents.median, air.held_drift_cents.count) == (pytest.approx(-3.25), 6)
    assert air.held_drift_change is not None
    assert air.held_drift_change.before == pytest.approx(-9.25)
    assert air.held_drift_change.clear
    assert "long notes, end against start" in text
    assert "last week −9.2" in " ".join(text.split())
    assert air.breath_gap_s is not None
    assert (air.breath_gap_s.median, air.breath_gap_s.count) == (11, 6)
    assert air.breath_gap_change is not None
    assert not air.breath_gap_change.clear


@pytest.mark.parametrize(("before", "now"), [(4, 7), (7, 4), (0, 7)])
def test_few_sessions_say_nothing_of_a_change(before: int, now: int) -> None:
    air, text = air_of(before, now)
    assert (air.held_drift_change, air.vibrato_hz_change) == (None, None)
    assert "last week −" not in text


# All of it


@pytest.mark.parametrize("name", [*ODD, "seed 8", "seed 9"])
def test_any_week_fits_the_terminal(name: str) -> None:
    make, ending = ODD.get(name, (lambda: OddWeeks(int(name[-1])).weeks(), ENDING))
    found = week(make(), ending)
    assert max(map(len, week_text(found).splitlines())) <= 80
    assert week_json(found)["ending"] == str(ending)


def test_odd_weeks_hold_what_they_are_for() -> None:
    """So that the recount has something of everything to count."""
    weeks = [week(OddWeeks(seed).weeks(), ENDING) for seed in range(4)]
    weeks += [week(make(), ending) for make, ending in ODD.values()]
    assert any(each.better for each in weeks)
    assert any(not knot.rounds for each in weeks for knot in each.knots)
    assert any(each.air.held_drift_change for each in weeks)
    assert any(len(each.tuning) > 1 for each in weeks)
    assert any(most_apart(tuning) for each in weeks for tuning in each.tuning)
    assert any(scale.evenness_change for each in weeks for scale in each.techniques)
    assert any(remark.private for each in weeks for remark in each.remarks)
    assert len({next_thing(each).sentence for each in weeks}) > 1
