"""A line as long as its file may be is gone through once, whatever stands in it.

Each of these took ten seconds of processor time and more, and a hundred times that where ten times
as much may stand on a line. The limit here is a hundred times what they take now.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from trainer.app.other_routines import routines_offered
from trainer.app.paths import user_paths
from trainer.journal.log import SessionLog
from trainer.journal.to_ask import to_ask
from trainer.routine.load import read_routine

LONG = 98_000
"""Characters: a routine's file may have 100 000, a session's 8 000 000."""
LIMIT_S = 3.0


def a_title(home: Path) -> str:
    """As the list of routines to choose from looks for it."""
    paths = user_paths({"TRAINER_HOME": str(home)})
    paths.routines.mkdir()
    (paths.routines / "a.yaml").write_text(f"title: a{' ' * LONG}x\nexercises: []\n")
    return routines_offered(paths)[0].title


def a_list_of_quotation_marks(_: Path) -> str:
    """As word processors put them."""
    _routine, problems = read_routine(f"title: [a, {'‚' * (LONG // 3)}]\n", "a.yaml")
    return problems[0].what


def a_remark(_: Path) -> str:
    """Gone through for questions."""
    log = SessionLog(datetime(2026, 11, 23, tzinfo=UTC), remark="a " * (LONG // 2) + ". Why?")
    return to_ask([log], (), ())[0]


@pytest.mark.parametrize("read", [a_title, a_list_of_quotation_marks, a_remark])
def test_a_long_line_is_gone_through_once(read: Callable[[Path], str], tmp_path: Path) -> None:
    began_s = time.process_time()
    assert read(tmp_path)
    assert time.process_time() - began_s < LIMIT_S
