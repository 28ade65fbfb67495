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
    return {note.index for note in last.notes if note.doubted}


ERRING = [heard(3 + n, 23 + n, tempo_bpm=60 + n) for n in range(6)]
"""Slow rounds with two holes each, never at the same place: the ear's way."""


@pytest.mark.parametrize("hole", [(20,), (20, 21), (0,), (42,)])
def test_a_hole_in_a_line_that_goes_on_is_not_judged(hole: tuple[int, ...]) -> None:
    assert doubted(*ERRING, heard(*hole)) == set(hole)


def test_the_first_doubt_is_of_one_note() -> None:
    assert doubted(heard(20)) == {20}
    assert len(doubted(heard(10, 30))) == 1


def test_a_doubted_note_is_no_missed_one_of_the_round() -> None:
    marks = heard(20)
    marks = replace(marks, measures=replace(marks.measures, played=42, missed=1))
    (last,) = without_lone_misses([marks])
    assert (last.measures.played, last.measures.missed) == (42, 0)


@pytest.mark.parametrize(
    "marks",
    [
        pytest.param(heard(20, 21, 22), id="three in a row"),
        pytest.param(heard(*range(43)), id="nothing"),
        pytest.param(heard(20, after={21: LATE}), id="the next note late"),
        pytest.param(heard(20, after={19: LONG}), id="the note before held over"),
    ],
)
def test_what_disturbs_the_line_is_the_players(marks: Marks) -> None:
    assert doubted(*ERRING, marks) == set()


def test_what_comes_again_is_the_players_and_was_so_the_first_time() -> None:
    first, second = without_lone_misses([heard(20), heard(20)])
    assert all(note.judged for marks in (first, second) for note in marks.notes)


def test_more_than_the_slower_rounds_let_expect_is_the_players() -> None:
    """Two holes each in slower rounds are the ear's way; after rounds without one, four are not."""
    sound = [heard(tempo_bpm=60 + n) for n in range(6)]
    now = heard(12, 16, 32, 36)
    assert len(doubted(*ERRING, now)) == 3
    assert len(doubted(*sound, now)) == 0


def test_the_player_who_found_it_hard_settles_the_doubt() -> None:
    marks = without_lone_misses([*ERRING, heard(12, 13, 14, 32, 36)])[-1]
    assert round_verdict(marks) is RoundVerdict.WELL
    assert round_verdict(marks, Felt.HARD) is RoundVerdict.BROKE
