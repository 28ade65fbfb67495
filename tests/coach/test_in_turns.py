"""Slow and goal tempo in turns, where the teacher chooses that instead of steps."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from tests.coach.test_ladder import marks_at
from trainer.coach.climb import after_round, begin
from trainer.coach.ladder import ClimbState, TempoLadder

LADDER = TempoLadder(60, 100, 10, in_turns=True)


def after(state: ClimbState, strain: float) -> ClimbState:
    marks = marks_at(state.tempo_bpm, 0)
    return after_round(
        state, replace(marks, spread_ms=strain * marks.evenness_limit_ms), None, 20.0
    )


def walk(*strains: float) -> list[ClimbState]:
    states = [begin(LADDER)]
    for strain in strains:
        states.append(after(states[-1], strain))
    return states


def test_slow_and_goal_come_in_turns() -> None:
    tempos = [state.tempo_bpm for state in walk(0.5, 1.0, 0.5, 1.0)]
    assert tempos == [60, 100, 60, 100, 60]


def test_a_goal_that_went_well_twice_is_reached() -> None:
    last = walk(0.5, 0.7, 0.5, 0.7)[-1]
    assert last.finished
    assert last.secure_bpm == 100
    assert last.closing == "100 held today."


def test_a_goal_that_keeps_breaking_comes_nearer() -> None:
    states = walk(0.5, 1.6, 0.5, 1.6)
    assert not states[-1].finished
    assert states[-1].goal_bpm == 80
    assert after(states[-1], 0.5).tempo_bpm == 80


def test_a_slow_round_that_breaks_becomes_slower() -> None:
    assert walk(1.6)[-1].tempo_bpm == 51


@given(st.lists(st.floats(0.1, 3.0), min_size=1, max_size=60))
def test_whatever_happens_it_ends_in_time_and_nothing_unheard_is_secure(
    strains: list[float],
) -> None:
    state = begin(LADDER)
    for strain in strains:
        if state.finished:
            break
        state = after(state, strain)
        assert 20 <= state.tempo_bpm <= 100
        assert state.secure_bpm is None or state.secure_bpm <= 100
    assert state.used_s <= 600


def test_tomorrow_begins_under_what_was_secure_and_never_under_the_teachers_start() -> None:
    steps = TempoLadder(60, 120, 10)
    assert begin(steps, 100).tempo_bpm == 85
    assert begin(steps, 62).tempo_bpm == 60
    assert begin(steps, 200).tempo_bpm == 120
    assert "a little under last time" in begin(steps, 100).why
