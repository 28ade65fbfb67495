"""What comes next never says otherwise than the sentence above it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from tests.coach.test_ladder import marks_at
from trainer.coach.advice import IN_THE_WAY, Felt, NextStep, Topic
from trainer.coach.climb import after_round, begin
from trainer.coach.judge import judge
from trainer.coach.ladder import TempoLadder
from trainer.coach.next_step import propose
from trainer.coach.round_verdict import RoundVerdict, round_verdict
from trainer.coach.words import advise
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Ink
from trainer.screens.drawing.written import Written, written_rows

LADDER = TempoLadder(60, 120, 10)


@pytest.mark.parametrize("topic", sorted(IN_THE_WAY))
def test_a_tempo_never_rises_on_what_was_just_found_fault_with(topic: Topic) -> None:
    even = marks_at(60, 5)
    first = after_round(begin(LADDER), even, Felt.EASY, 22, topic)
    assert first.tempo_bpm == 60
    assert "easy" not in first.why
    assert "well" not in first.why
    second = after_round(first, even, None, 22, topic)
    assert second.tempo_bpm < 60
    assert second.secure_bpm is None


@pytest.mark.parametrize("topic", [Topic.TUNING_HIGH, Topic.TONE, Topic.FADING])
def test_what_has_nothing_to_do_with_the_tempo_does_not_hold_it_back(topic: Topic) -> None:
    after = after_round(begin(LADDER), marks_at(60, 5), None, 22, topic)
    assert after.tempo_bpm > 60
    assert after.why.startswith("The tempo is fine")


def test_what_the_student_heard_differently_is_neither_praised_nor_blamed() -> None:
    first = after_round(begin(LADDER), marks_at(60, 60), None, 22, Topic.LEFT_OPEN)
    assert first.tempo_bpm == 60
    second = after_round(first, marks_at(60, 60), None, 22, Topic.LEFT_OPEN)
    assert second.tempo_bpm > 60
    assert second.secure_bpm is None
    assert round_verdict(marks_at(60, 5), Felt.HARD, Topic.LEFT_OPEN) is RoundVerdict.BROKE


def test_after_a_disagreement_nothing_is_praised(
    rounds: Callable[..., Round], takes: Any, faults: dict[str, Any]
) -> None:
    round_ = rounds()
    take = takes(round_, 3, faults["sharp top"], slips=False)
    marks = judge(round_, take)
    said = advise(round_, take, marks)
    other = advise(round_, take, marks, disputed=frozenset({said.topic, Topic.TUNING}))
    assert other.topic is Topic.LEFT_OPEN
    assert other.sentence == "Nothing else from me."
    assert propose(round_, marks, other).step is NextStep.GO_ON
    clean = takes(round_, 3, slips=False)
    heard_well = advise(round_, clean, judge(round_, clean), disputed=frozenset({said.topic}))
    assert heard_well.topic is Topic.SECURE


def test_a_trouble_spot_is_only_taken_out_of_a_round_that_had_trouble(
    rounds: Callable[..., Round], takes: Any, faults: dict[str, Any]
) -> None:
    bad = [judge(rounds(number=n), takes(rounds(number=n), 3, faults["late step"])) for n in (1, 2)]
    last = rounds(number=3)
    marks = judge(last, takes(last, 3, faults["late step"]))
    said = advise(last, takes(last, 3, faults["late step"]), marks, bad)
    assert propose(last, marks, said, bad).step is NextStep.TAKE_OUT
    praised = replace(said, topic=Topic.SECURE)
    assert propose(last, marks, praised, bad).step is NextStep.GO_ON


@pytest.mark.parametrize("cared_for", [True, False])
def test_only_notes_that_something_was_said_of_are_inked_as_off(
    rounds: Callable[..., Round], takes: Any, faults: dict[str, Any], cared_for: bool
) -> None:
    round_ = rounds()
    take = takes(round_, 3, faults["sharp top"], slips=False)
    marks = judge(round_, take)
    care = frozenset(advise(round_, take, marks).note_indices) if cared_for else frozenset[int]()
    off_ms = [note.off_ms for note in marks.notes]
    rows = written_rows(Written(round_, take, off_ms, care, frozenset()), 120, 40)
    inks = {ink for row in rows for ink in row.inks}
    assert (Ink.OFF in inks) == cared_for
