"""Pausing, going back and going to a place in the routine: nothing that was played is lost."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import yaml

from tests.session.conftest import Practice
from trainer.session.view import Stage

Build = Callable[..., Practice]

THREE = """
title: Three
exercises:
  - scale: first
    key: D
    range: one octave
    tempo: 96
    articulations: [slurred, single]
  - rest: 30 seconds
  - scale: second
    key: G
    range: one octave
    tempo: 96
    articulations: [slurred, single]
"""


def rounds(practice: Practice) -> list[dict[str, object]]:
    (text,) = practice.journal_texts() or ("rounds: []",)
    found: list[dict[str, object]] = yaml.safe_load(text)["rounds"]
    return found


def heard_states(round_: dict[str, object]) -> list[str]:
    return [note.get("state", "played") for note in round_["notes"]]  # type: ignore[index,attr-defined]


def to_playing(practice: Practice, seconds: float = 1.2) -> None:
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.pass_time(seconds)


def test_a_paused_round_is_kept_as_heard_and_counts_in_anew(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    assert practice.do(practice.session.pause).stage is Stage.PAUSED
    assert rounds(practice) == []  # nothing was played in a count-in
    assert practice.do(practice.session.pause).stage is Stage.COUNT_IN
    practice.until(Stage.PLAYING)
    practice.pass_time(1.2)
    paused = practice.do(practice.session.pause)
    assert paused.stage is Stage.PAUSED
    assert paused.round is not None
    assert paused.round.articulation == "slurred"
    practice.pass_time(60.0)
    assert practice.view().stage is Stage.PAUSED
    (kept,) = rounds(practice)
    states = heard_states(kept)
    assert states.count("played") >= 2
    assert "missed" not in states
    assert set(states[-3:]) == {"not judged"}
    assert practice.do(practice.session.advance).stage is Stage.COUNT_IN
    after = practice.until(Stage.AFTER)
    assert after.advice is not None
    assert [each["number"] for each in rounds(practice)] == [1, 2]


def test_the_seconds_after_a_round_and_of_a_rest_stand_still(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.AFTER)
    left_s = practice.do(practice.session.pause).seconds_left
    practice.do(lambda: practice.session.hold(held=True))  # help lies open
    practice.pass_time(60.0)
    practice.do(lambda: practice.session.hold(held=False))
    practice.pass_time(60.0)
    view = practice.view()
    assert (view.stage, view.stands_still, view.seconds_left) == (Stage.AFTER, True, left_s)
    assert practice.do(practice.session.pause).stands_still is False
    practice.until(Stage.COUNT_IN, most_s=15)
    assert len(rounds(practice)) == 1
    practice.do(practice.session.rest)
    practice.do(practice.session.pause)
    practice.pass_time(300.0)
    assert practice.view().stage is Stage.REST
    assert practice.do(practice.session.advance).stage is Stage.READY


def test_back_and_to_a_number_and_an_exercise_goes_on_where_it_was_left(
    practice_of: Build,
) -> None:
    practice = practice_of(THREE)
    session = practice.session
    assert practice.do(lambda: session.go_to(2)).exercise_index == 2
    assert practice.do(lambda: session.go_to(7)).exercise_index == 2
    to_playing(practice)
    practice.until(Stage.AFTER)
    view = practice.do(session.go_back)  # past the rest
    assert (view.stage, view.exercise_index) == (Stage.READY, 0)
    assert practice.do(session.go_back).exercise_index == 0
    to_playing(practice)
    view = practice.do(lambda: session.go_to(2))  # out of a round that sounds
    assert [len(heard_states(each)) > 0 for each in rounds(practice)] == [True, True]
    assert view.round is not None
    assert view.round.articulation == "single"  # the slurred round is behind us
    practice.do(session.skip)
    assert practice.view().stage is Stage.ENDED
    assert practice.do(lambda: session.go_to(0)).stage is Stage.ENDED


@pytest.mark.parametrize("leave", ["skip", "go_back", "rest", "pause"])
def test_a_round_left_by_any_key_is_kept_as_far_as_it_was_heard(
    practice_of: Build, leave: str
) -> None:
    practice = practice_of(THREE)
    practice.do(practice.session.advance)
    to_playing(practice)
    practice.do(getattr(practice.session, leave))
    (kept,) = rounds(practice)
    assert "missed" not in heard_states(kept)
    assert practice.view().stage in (Stage.REST, Stage.READY, Stage.PAUSED)


def test_back_from_the_rest_after_an_exercise_is_that_exercise(practice_of: Build) -> None:
    practice = practice_of(THREE)
    practice.do(lambda: practice.session.go_to(1))
    assert practice.view().stage is Stage.REST
    view = practice.do(practice.session.go_back)
    assert (view.stage, view.exercise_index) == (Stage.READY, 0)
