"""What comes next, and why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from trainer.coach.advice import NextStep, Proposal
from trainer.coach.judge import judge
from trainer.coach.marks import Marks
from trainer.coach.next_step import propose
from trainer.coach.words import advise
from trainer.ear.heard import HeardNote, State, Take
from trainer.routine.round import Round

Rounds = Callable[..., Round]


def proposed(round_: Round, take: Take, earlier: list[Marks]) -> Proposal:
    marks = judge(round_, take)
    proposal = propose(round_, marks, advise(round_, take, marks, earlier), earlier)
    earlier.append(marks)
    return proposal


def test_a_secure_round_leads_on(rounds: Rounds, takes: Any) -> None:
    assert proposed(rounds(), takes(rounds(), 3, slips=False), []).step is NextStep.GO_ON


def test_a_habit_is_worth_another_round_but_not_for_ever(
    rounds: Rounds, takes: Any, faults: dict[str, Any]
) -> None:
    earlier: list[Marks] = []
    steps = [
        proposed(rounds(number=n), takes(rounds(number=n), 3, faults["sharp top"]), earlier).step
        for n in (1, 2, 3)
    ]
    assert steps == [NextStep.AGAIN, NextStep.AGAIN, NextStep.GO_ON]


def test_a_round_that_came_apart_is_played_slower(
    rounds: Rounds, takes: Any, faults: dict[str, Any]
) -> None:
    round_ = rounds()
    fault = replace(faults["drops notes"], missed_share=0.35)
    proposal = proposed(round_, takes(round_, 3, fault), [])
    assert proposal.step is NextStep.SLOWER
    assert proposal.tempo_bpm is not None
    assert proposal.tempo_bpm < round_.tempo_bpm


def test_an_unheard_round_is_simply_played_again(rounds: Rounds, takes: Any) -> None:
    take = takes(rounds(), 3)
    silent = tuple(HeardNote(n.index, n.expected, State.MISSED) for n in take.expected_notes)
    assert proposed(rounds(), replace(take, notes=silent), []).step is NextStep.AGAIN
