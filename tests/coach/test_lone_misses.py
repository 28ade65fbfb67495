"""A note that stayed silent is the player's only where something else says so too."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.coach.test_ladder import marks_at
from trainer.coach.advice import Felt
from trainer.coach.lone_misses import without_lone_misses
from trainer.coach.marks import Marks
from trainer.coach.round_verdict import RoundVerdict, round_verdict

LATE, LONG = {"late": True}, {"seconds": 0.2}


def heard(
    *missed: int, tempo_bpm: float = 80, after: dict[int, dict[str, Any]] | None = None
) -> Marks:
    """A climb's round without these notes; `after`: what else was heard of others."""
    marks = marks_at(tempo_bpm, 5)
    notes = (
        replace(
            note,
            missed=note.index in missed,
            **{"seconds": 0.1, **(after or {}).get(note.index, {})},
        )
        for note in marks.notes
    )
    return replace(marks, notes=tuple(notes))


def doubted(*rounds: Marks) -> set[int]:
    last = without_lone_misses(rounds)[-1]
    return {note.index for note in last.notes if note.missed and not note.judged}


def test_a_hole_in_a_line_that_goes_on_is_not_judged() -> None:
    assert doubted(heard(20)) == {20}


@pytest.mark.parametrize(
    "marks",
    [
        pytest.param(heard(20, 21), id="two in a row"),
        pytest.param(heard(20, after={21: LATE}), id="the next note late"),
        pytest.param(heard(20, after={19: LONG}), id="the note before held over"),
    ],
)
def test_what_disturbs_the_line_is_the_players(marks: Marks) -> None:
    assert doubted(marks) == set()


def test_what_comes_again_is_the_players_and_was_so_the_first_time() -> None:
    first, second = without_lone_misses([heard(20), heard(20)])
    assert all(note.judged for marks in (first, second) for note in marks.notes)


def test_more_than_the_slower_rounds_let_expect_is_the_players() -> None:
    """Two holes each in slower rounds are the ear's way; after rounds without one, four are not."""
    erring = [heard(3 + n, 23 + n, tempo_bpm=60 + n) for n in range(6)]
    sound = [heard(tempo_bpm=60 + n) for n in range(6)]
    now = heard(12, 16, 32, 36)
    assert len(doubted(*erring, now)) == 3
    assert len(doubted(*sound, now)) == 0


def test_the_player_who_found_it_hard_settles_the_doubt() -> None:
    rounds = [heard(3 + n, 23 + n, tempo_bpm=60 + n) for n in range(6)]
    marks = without_lone_misses([*rounds, heard(12, 13, 14, 32, 36)])[-1]
    assert round_verdict(marks) is RoundVerdict.WELL
    assert round_verdict(marks, Felt.HARD) is RoundVerdict.BROKE
