"""What may befall a laptop in the middle of a round: its lid, its clock, its disk, its devices."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from datetime import timedelta

import pytest

from tests.session import conftest
from tests.session.conftest import NOON, Practice
from trainer.ear.heard import State
from trainer.journal.read import read_sessions
from trainer.session.view import Stage

Build = Callable[..., Practice]


def playing(practice: Practice) -> Practice:
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.pass_time(2.0)
    return practice


def all_played(practice: Practice) -> None:
    take = practice.until(Stage.AFTER).take
    assert take is not None
    assert take.count(State.MISSED) == take.count(State.EXTRA) == 0


@pytest.mark.parametrize("jump", [timedelta(hours=9), -timedelta(hours=26)], ids=["on", "back"])
def test_a_lid_that_is_closed_costs_the_round_alone(
    jump: timedelta, practice_of: Build, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The machine sleeps; when it wakes its clock may have been put right, back too."""
    practice = playing(practice_of())
    practice.port.lose("The computer stopped for a while; what you played is kept.")
    practice.session.tick()
    monkeypatch.setattr(conftest, "NOON", NOON + jump)
    practice.port.come_back("The sound is back: headset.")
    practice.session.tick()
    assert practice.do(practice.session.advance).stage is Stage.COUNT_IN
    all_played(practice)
    practice.do(practice.session.end)
    (log,), problems = read_sessions(practice.paths.journal)
    assert problems == ()
    assert len(log.rounds) == 2
    assert log.elapsed_s is not None
    assert log.elapsed_s < 60, "time asleep is no practice"


def test_another_device_with_another_rate_is_played_on(practice_of: Build) -> None:
    practice = playing(practice_of())
    practice.port.lose("The sound device stopped answering.")
    practice.session.tick()
    practice.port._sample_rate_hz = 44100
    practice.port.come_back("The sound is back: desk set.")
    practice.session.tick()
    assert practice.do(practice.session.advance).stage is Stage.COUNT_IN
    all_played(practice)


def test_a_folder_that_can_no_longer_be_written_costs_no_round(
    practice_of: Build, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As a disk that the system makes read-only at its first fault (Linux, errors=remount-ro)."""
    practice = playing(practice_of())
    journal, opened = str(practice.paths.journal), os.open

    def refuses(path: str, flags: int, *rest: int, **more: int) -> int:
        if str(path).startswith(journal) and flags & os.O_CREAT:
            raise OSError(errno.EROFS, "Read-only file system", str(path))
        return opened(path, flags, *rest, **more)

    with monkeypatch.context() as disk:
        disk.setattr(os, "open", refuses)
        practice.until(Stage.AFTER)
        assert any("can't be written" in notice for notice in practice.view().notices)
        assert read_sessions(practice.paths.journal) == ((), ())
        (log,), _ = read_sessions(practice.paths.spare_journal)
        assert len(log.rounds) == 1
    practice.until(Stage.COUNT_IN)
    practice.until(Stage.AFTER)
    (log,), problems = read_sessions(practice.paths.journal)
    assert (len(log.rounds), problems) == (2, ())
    assert list(practice.paths.spare_journal.glob("*.yaml")) == []
