"""One routine for several levels."""

from datetime import date

import pytest

from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.problem_report import describe

TEXT = """
title: For three
level: middle
exercises:
- scale: s
  key: D
  tempo: 72
  levels:
    First: {range: one octave, tempo: 50, rhythm: eighths}
    last: {articulations: all six}
- arpeggio: a
  key: same as s
  levels: {first: leave out}
- rest: 1 minute
  levels: {last: leave out}
"""


def at(level: str):
    routine, problems = read_routine(TEXT.replace("level: middle\n", ""), "m.yaml", level=level)
    assert routine is not None, describe(problems)
    return plan(routine, date(2026, 3, 2), seed=1)


def test_the_first_level_has_less_and_slower():
    scale, rest = at("first")
    assert (scale.rounds[0].tempo_bpm, rest.id) == (50, "rest 1")
    assert len({note.pitch for note in scale.rounds[0].notes}) == 8


def test_the_last_level_has_more():
    scale, arpeggio = at("last")
    assert (scale.rounds[0].tempo_bpm, len(scale.rounds)) == (72, 6)
    assert arpeggio.id == "a"


def test_without_a_level_the_exercise_is_as_it_is_written():
    scale, _, _ = at("")
    assert (scale.rounds[0].tempo_bpm, len(scale.rounds)) == (72, 1)


def test_a_level_no_exercise_has_is_told():
    routine, problems = read_routine(TEXT, "m.yaml")
    assert routine is None
    assert [problem.line for problem in problems] == [3]
    assert "the exercises know first and last." in describe(problems)
    near = read_routine(TEXT.replace("level: middle", "level: frist"), "m.yaml")[1]
    assert "Did you mean 'first'?" in describe(near)


def test_a_level_that_leaves_nothing_to_play_is_told():
    text = "title: T\nexercises:\n- {scale: s, key: C, levels: {first: leave out}}\n"
    _, problems = read_routine(text, "m.yaml")
    assert "Nothing is left to play at the level 'first'." in describe(problems)


def test_a_mistake_at_any_level_is_told_whatever_level_holds():
    text = TEXT.replace("tempo: 50", "tempo: slow").replace("level: middle", "level: last")
    _, problems = read_routine(text, "m.yaml")
    assert [problem.line for problem in problems] == [9]
    assert "'slow' is not a number" in describe(problems)


@pytest.mark.parametrize(
    ("levels", "fragment"),
    [
        ("beginner", "Write levels and what changes there"),
        ("{beginner: slow}", "Write fields in braces"),
        ("{beginner: {scale: t}}", "'scale' can't change with the level."),
        ("{beginner: {levels: {x: leave out}}}", "'levels' can't change with the level."),
        ("{beginner: {tmepo: 50}}", "Did you mean 'tempo'?"),
        ("{a: {}, b: {}, c: {}, d: {}, e: {}, f: {}, g: {}}", "Keep 6 at most"),
    ],
)
def test_mistakes_in_levels_are_told(levels, fragment):
    text = f"title: T\nexercises:\n- scale: s\n  key: C\n  levels: {levels}\n"
    routine, problems = read_routine(text, "m.yaml")
    assert routine is None
    assert problems[0].line == 5
    assert fragment in describe(problems)
