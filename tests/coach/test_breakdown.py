"""The breakdown goes on while it helps, ends when it is smooth, and stops when it does not help."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from trainer.coach.advice import Felt
from trainer.coach.breakdown import KnotVerdict, ahead, breakdown, knot_verdict, returning
from trainer.coach.history import OldKnot
from trainer.coach.judge import judge
from trainer.coach.knots import Knot
from trainer.coach.observations.knot import own_steps
from trainer.music.pitch import Pitch
from trainer.routine.round import Round, RoundKind

SMOOTH, ROUGH, UNKNOWN = KnotVerdict.SMOOTH, KnotVerdict.ROUGH, KnotVerdict.UNKNOWN
BREAK = (Pitch.parse("C#5"), Pitch.parse("D5"))


@pytest.fixture
def short(rounds: Callable[..., Round]) -> tuple[Round, ...]:
    round_ = rounds("D", 80.0)
    return breakdown(Knot(round_.exercise_id, BREAK, (0, 1), 3, 4, (), None), round_)


def walk(short: tuple[Round, ...], *went: KnotVerdict) -> tuple[tuple[Round, ...], str]:
    pending, why = short, ""
    for place in range(len(went)):
        following = ahead(pending, went[: place + 1])
        pending, why = following.rounds, following.why
    return pending, why


def test_every_short_round_meets_the_knot_often_enough_to_be_judged(
    short: tuple[Round, ...], takes: Callable[..., Any]
) -> None:
    earlier: list[Any] = []
    for round_ in short[:-1]:
        marks = judge(round_, takes(round_, 5, slips=False))
        if all(note.judged for note in marks.notes):
            assert len(own_steps(marks, earlier)) >= 3, round_.title
        earlier.append(marks)


def test_the_hard_note_is_stopped_on_and_as_many_notes_join_before_as_after(
    short: tuple[Round, ...],
) -> None:
    by_name = {round_.title.split(", ")[1]: round_.notes for round_ in short[:-1]}
    stopped = by_name["stopping on the hard note"]
    held = {
        str(note.pitch) for note in stopped[:-1] if note.length > min(n.length for n in stopped)
    }
    assert held == {"D5"}
    for title, around in (
        ("slowly", {"C#5", "D5"}),
        ("in pairs", {"B4", "C#5", "D5", "E5"}),
        ("a note more at each end", {"A4", "B4", "C#5", "D5", "E5", "F#5"}),
    ):
        assert {str(note.pitch) for note in by_name[title]} == around


def test_two_smooth_rounds_end_the_slow_forms(short: tuple[Round, ...]) -> None:
    pending, why = walk(short, SMOOTH, SMOOTH)
    assert pending[0].title.endswith("up in tempo")
    assert pending[0].tempo_bpm > short[0].tempo_bpm
    assert "a little faster" in why
    assert [round_.kind for round_ in pending][-1] is not RoundKind.KNOT


def test_three_rough_rounds_are_enough_for_today(short: tuple[Round, ...]) -> None:
    pending, why = walk(short, ROUGH, ROUGH, ROUGH)
    assert pending == short[-1:]
    assert "tomorrow" in why


def test_smooth_to_the_top_leads_back_into_the_whole(short: tuple[Round, ...]) -> None:
    pending, why = walk(short, *[SMOOTH] * 5)
    assert pending == short[-1:]
    assert "whole" in why


def test_what_could_not_be_heard_moves_on_by_itself(short: tuple[Round, ...]) -> None:
    pending, _ = walk(short, UNKNOWN, UNKNOWN)
    assert pending == short[2:]


def test_smooth_and_rough_are_heard(short: tuple[Round, ...], takes: Callable[..., Any]) -> None:
    round_ = short[0]
    clean = judge(round_, takes(round_, 11, slips=False))
    clean = replace(clean, notes=tuple(replace(note, judged=True) for note in clean.notes))
    assert knot_verdict(clean, None, ()) is SMOOTH
    assert knot_verdict(clean, Felt.HARD, ()) is ROUGH
    blipped = replace(clean, notes=tuple(replace(note, blip=True) for note in clean.notes))
    assert knot_verdict(blipped, Felt.EASY, ()) is ROUGH


def test_where_nobody_listens_the_players_word_decides() -> None:
    assert knot_verdict(None, None, ()) is UNKNOWN
    assert knot_verdict(None, Felt.EASY, ()) is SMOOTH
    assert knot_verdict(None, Felt.HARD, ()) is ROUGH


def test_old_knots_come_back_in_mixed_order(rounds: Callable[..., Round]) -> None:
    round_ = rounds("D", 80.0)
    day = date(2026, 3, 1)
    other = (Pitch.parse("E6"), Pitch.parse("F#6"))
    foreign = (Pitch.parse("C5"), Pitch.parse("Eb5"))
    old = [OldKnot(round_.exercise_id, pitches, day, 0) for pitches in (BREAK, other, foreign)]
    back = returning(old, round_)
    assert [one.title.split(",")[0] for one in back] == ["C#5–D5", "E6–F#6"] * 2
    assert [one.tempo_bpm for one in back] == [60.0, 60.0, 80.0, 80.0]
    assert {one.kind for one in back} == {RoundKind.KNOT}
