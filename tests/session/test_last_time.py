"""After a round: how it stands beside the last time, in this session and from the journal."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from tests.session.conftest import DAY
from trainer.journal.read import read_session
from trainer.player.habits import EXAMPLES
from trainer.session.history_from_journal import history_of
from trainer.session.view import Stage

Build = Callable[..., Any]
STEADY = """
title: One round
exercises: [{scale: hill, key: D, range: one octave, tempo: 96, articulations: [slurred]}]
"""


def after_first_round(practice: Any) -> Any:
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    return practice.until(Stage.AFTER)


def test_the_first_time_nothing_is_compared(practice_of: Build) -> None:
    assert after_first_round(practice_of(STEADY)).last_time is None


def test_a_round_played_again_stands_beside_the_one_before(practice_of: Build) -> None:
    practice = practice_of(STEADY)
    after_first_round(practice)
    practice.do(practice.session.slower)
    practice.until(Stage.PLAYING)
    last = practice.until(Stage.AFTER).last_time
    assert (last.when, last.tempo_bpm) == ("last time", 96.0)
    assert [figure.unit for figure in last.figures] == ["%", "ms", "cents"]


def test_without_a_microphone_nothing_is_compared(practice_of: Build) -> None:
    practice = practice_of(STEADY, listens=False)
    after_first_round(practice)
    practice.do(practice.session.again)
    practice.until(Stage.PLAYING)
    assert practice.until(Stage.AFTER).last_time is None


@pytest.mark.parametrize("habits", [None, EXAMPLES["student"]])
def test_the_journal_gives_the_figures_the_session_had(practice_of: Build, habits: Any) -> None:
    practice = practice_of(STEADY, habits)
    after_first_round(practice)
    (now,) = practice.session._walk._place._lesson._played
    (file,) = practice.paths.journal.glob("*.yaml")
    log, problems = read_session(file)
    assert problems == ()
    history = history_of([log], DAY + timedelta(days=1))
    (then,) = history.days[0].rounds
    assert (then.notes, then.articulation, then.number) == (now.notes, now.articulation, 1)
    for name in ("clean_share", "evenness_ms", "within_cents"):
        assert getattr(then.figures, name) == pytest.approx(getattr(now.figures, name), abs=0.1)
    again = practice_of(STEADY, habits, history=history)
    last = after_first_round(again).last_time
    assert (last.when, last.tempo_bpm) == ("yesterday", None)
    assert all(abs(figure.before - figure.now) <= 1 for figure in last.figures)
