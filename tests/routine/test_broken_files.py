"""A hundred broken files: how many are shown at the right place with the right advice."""

import runpy
import shutil
from pathlib import Path

import pytest

from trainer.routine.load import load_routine, read_routine
from trainer.routine.problem import Problem

_TABLE = runpy.run_path(str(Path(__file__).parent / "broken.py"))
BROKEN, GOOD, ROUTINES = _TABLE["BROKEN"], _TABLE["GOOD"], _TABLE["ROUTINES"]
ENOUGH = 0.9


def told(problems: tuple[Problem, ...], one) -> tuple[bool, bool, bool]:
    """Whether line, column and mending are right, in one and the same problem."""
    serious = [problem for problem in problems if problem.serious]
    line = [problem for problem in serious if problem.line == one.line]
    column = [problem for problem in line if problem.column == one.column]
    return bool(line), bool(column), any(one.mend in problem.mend for problem in column)


def test_the_good_file_is_good():
    assert read_routine(GOOD, "good.yaml")[1] == ()


def test_there_are_a_hundred_different_ones():
    assert len({one.text for one in BROKEN}) == len(BROKEN) >= 100


@pytest.mark.parametrize("one", BROKEN, ids=lambda one: one.name)
def test_a_broken_file_is_refused_with_few_words(one):
    """No mistake makes more than three sentences, or a teacher loses heart."""
    routine, problems = read_routine(one.text, "good.yaml", ROUTINES)
    assert routine is None
    assert 1 <= len(problems) <= 3


@pytest.mark.slow
@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["as saved here", "as saved on Windows"])
def test_nine_in_ten_are_told_at_their_place_with_the_right_mending(ends, tmp_path):
    shutil.copy(ROUTINES / "warm_up.yaml", tmp_path)
    found = []
    for one in BROKEN:
        file = tmp_path / "good.yaml"
        mark = "\ufeff" if ends == "\r\n" else ""
        file.write_bytes((mark + one.text).replace("\n", ends).encode())
        found.append(told(load_routine(file)[1], one))
    lines, columns, mended = (sum(column) for column in zip(*found, strict=True))
    print(f"of {len(found)}: line {lines}, column {columns}, mending {mended}")
    missed = [one.name for one, right in zip(BROKEN, found, strict=True) if not all(right)]
    assert min(lines, columns, mended) >= ENOUGH * len(found), missed
