"""What was kept aside comes home whole and once, whatever happens on the way."""

from __future__ import annotations

import errno
import os
import random
import signal
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter
from typing import NoReturn

import pytest

from trainer.app.open_session import open_session, planned_for
from trainer.app.paths import Paths, user_paths
from trainer.app.todays_routine import SHIPPED_ROUTINES
from trainer.errors import JournalError
from trainer.journal import bring_home as module
from trainer.journal.bring_home import bring_home, brought_words
from trainer.journal.encode import session_text
from trainer.journal.kept import kept_sessions
from trainer.journal.log import LaterRemark, SessionLog
from trainer.journal.read import read_sessions, read_text
from trainer.journal.write import JournalFile
from trainer.routine.load import load_routine
from trainer.session.beginning import Beginning
from trainer.sound.simulated import SimulatedPort

KILLS = int(os.environ.get("TRAINER_KILLS", "80"))


@pytest.fixture
def paths(tmp_path: Path) -> Paths:
    return user_paths({"TRAINER_HOME": str(tmp_path)})


@pytest.fixture
def a_session(a_session: SessionLog) -> SessionLog:
    """As a reader sees it: rounded, times to the second."""
    log, _ = read_text(Path("session.yaml"), session_text(a_session).encode())
    assert log is not None
    return log


def keep(folder: Path, log: SessionLog, name: str = "2026-11-20_17-05-12.yaml") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text(session_text(log))
    return folder / name


def everything_in(folder: Path) -> list[Path]:
    return sorted(folder.iterdir()) if folder.exists() else []


def test_a_session_kept_aside_comes_home(paths: Paths, a_session: SessionLog) -> None:
    keep(paths.spare_journal, a_session)
    assert bring_home(paths.spare_journal, paths.journal) == (
        paths.journal / "2026-11-20_17-05-12.yaml",
    )
    assert everything_in(paths.spare_journal) == []
    assert kept_sessions(paths.journal_folders) == ((a_session,), ())


def test_nothing_kept_aside_is_nothing_to_do(paths: Paths) -> None:
    assert bring_home(paths.spare_journal, paths.journal) == ()
    assert not paths.journal.exists()


def test_it_comes_home_once(paths: Paths, a_session: SessionLog) -> None:
    for _ in range(3):
        keep(paths.spare_journal, a_session)
        bring_home(paths.spare_journal, paths.journal)
    assert len(everything_in(paths.journal)) == 1
    assert kept_sessions(paths.journal_folders) == ((a_session,), ())


def test_the_beginning_at_home_is_completed(paths: Paths, a_session: SessionLog) -> None:
    """The folder went away after two rounds; the rest was kept aside."""
    keep(paths.journal, replace(a_session, rounds=a_session.rounds[:2], ended=None))
    keep(paths.spare_journal, a_session)
    bring_home(paths.spare_journal, paths.journal)
    assert len(everything_in(paths.journal)) == 1
    assert kept_sessions(paths.journal_folders) == ((a_session,), ())


def test_more_at_home_is_left_alone(paths: Paths, a_session: SessionLog) -> None:
    more = replace(a_session, remarks=(LaterRemark("Added at home."),))
    file = keep(paths.journal, more)
    before = file.read_bytes()
    keep(paths.spare_journal, a_session)
    bring_home(paths.spare_journal, paths.journal)
    assert everything_in(paths.journal) == [file]
    assert file.read_bytes() == before
    assert everything_in(paths.spare_journal) == []


def test_a_hand_at_home_is_never_overwritten(paths: Paths, a_session: SessionLog) -> None:
    file = keep(paths.journal, replace(a_session, rounds=a_session.rounds[:2]))
    with file.open("a") as written:
        written.write("# the teacher was here\n")
    keep(paths.spare_journal, a_session)
    bring_home(paths.spare_journal, paths.journal)
    assert file.read_text().endswith("# the teacher was here\n")
    sessions, problems = kept_sessions(paths.journal_folders)
    assert sessions == (a_session,)
    assert [problem.path for problem in problems] == [file]


def test_another_session_of_the_same_second_stays(paths: Paths, a_session: SessionLog) -> None:
    other = replace(a_session, session_id="another", rounds=a_session.rounds[:1])
    keep(paths.journal, other)
    keep(paths.spare_journal, a_session)
    bring_home(paths.spare_journal, paths.journal)
    sessions, problems = kept_sessions(paths.journal_folders)
    assert problems == ()
    assert {log.session_id for log in sessions} == {"another", a_session.session_id}


@pytest.mark.parametrize("broken", ["version: [", "version: 99\nstarted: 2026-11-20 17:05+01:00\n"])
def test_what_cannot_be_read_stays_and_is_told(broken: str, paths: Paths) -> None:
    paths.spare_journal.mkdir(parents=True)
    file = paths.spare_journal / "2026-11-20_17-05-12.yaml"
    file.write_text(broken)
    assert bring_home(paths.spare_journal, paths.journal) == ()
    assert file.read_text() == broken
    _, problems = kept_sessions(paths.journal_folders)
    assert [problem.path for problem in problems] == [file]


def test_a_broken_round_goes_home_as_it_is(paths: Paths, a_session: SessionLog) -> None:
    """The whole file moves, its broken part too; never judged by what could be read of it."""
    file = keep(paths.spare_journal, a_session)
    file.write_text(file.read_text().replace("tempo_bpm: 72", "tempo_bpm: fast", 1))
    broken = file.read_bytes()
    for _ in range(2):
        (home,) = bring_home(paths.spare_journal, paths.journal)
        assert home.read_bytes() == broken
        file.write_bytes(broken)
    assert len(everything_in(paths.journal)) == 1


def refuse(*_: object) -> NoReturn:
    raise OSError(errno.EROFS, "Read-only file system")


@pytest.mark.parametrize("call", ["replace", "link", "fsync"])
def test_a_home_that_refuses_leaves_all_where_it_is(
    call: str, paths: Paths, a_session: SessionLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep(paths.journal, replace(a_session, rounds=a_session.rounds[:2], ended=None))
    keep(paths.spare_journal, a_session)
    with monkeypatch.context() as patched:
        patched.setattr(os, call, refuse)
        bring_home(paths.spare_journal, paths.journal)
        sessions, _ = kept_sessions(paths.journal_folders)
        assert sessions == (a_session,)
    bring_home(paths.spare_journal, paths.journal)
    assert kept_sessions(paths.journal_folders) == ((a_session,), ())


def test_a_session_still_under_way_goes_on_at_home(paths: Paths, a_session: SessionLog) -> None:
    """One trainer writes aside; the folder comes back; a second trainer starts and sweeps."""
    paths.journal.parent.mkdir(parents=True, exist_ok=True)
    paths.journal.write_text("in the way")
    started = datetime(2026, 11, 20, 17, 5, 12, tzinfo=UTC)
    first = JournalFile.begin(paths.journal, SessionLog(started), paths.spare_journal)
    with pytest.raises(JournalError):
        first.add_round(a_session.rounds[0])
    paths.journal.unlink()
    bring_home(paths.spare_journal, paths.journal)
    first.add_round(a_session.rounds[1])
    first.finish(started + timedelta(minutes=9))
    sessions, problems = kept_sessions(paths.journal_folders)
    assert problems == ()
    assert [len(log.rounds) for log in sessions] == [2]
    assert len(everything_in(paths.journal)) == 1


def test_a_round_written_aside_meanwhile_is_not_lost(
    paths: Paths, a_session: SessionLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    shorter = replace(a_session, rounds=a_session.rounds[:2], ended=None)
    file = keep(paths.spare_journal, shorter)
    move = module._stands_at_home

    def slowly(*parts: object, **named: object) -> Path:
        home = move(*parts, **named)  # type: ignore[arg-type]
        file.write_text(session_text(a_session))
        return home

    monkeypatch.setattr(module, "_stands_at_home", slowly)
    bring_home(paths.spare_journal, paths.journal)
    assert kept_sessions(paths.journal_folders)[0] == (a_session,)
    monkeypatch.undo()
    bring_home(paths.spare_journal, paths.journal)
    assert kept_sessions(paths.journal_folders) == ((a_session,), ())
    assert everything_in(paths.spare_journal) == []


def test_many_trainers_start_at_once(paths: Paths, a_session: SessionLog) -> None:
    logs = [a_day_later(a_session, number) for number in range(12)]
    for number, log in enumerate(logs):
        keep(paths.spare_journal, log, f"{number}.yaml")
    context = get_context("fork")
    sweeps = [
        context.Process(target=bring_home, args=(paths.spare_journal, paths.journal))
        for _ in range(4)
    ]
    for sweep in sweeps:
        sweep.start()
    for sweep in sweeps:
        sweep.join()
    bring_home(paths.spare_journal, paths.journal)
    assert kept_sessions(paths.journal_folders) == (tuple(logs), ())
    assert len(everything_in(paths.journal)) == len(logs)
    assert everything_in(paths.spare_journal) == []


def a_day_later(log: SessionLog, days: int) -> SessionLog:
    return replace(log, started=log.started + timedelta(days=days), session_id=f"day {days}")


def kill_a_sweep(paths: Paths, after_s: float) -> None:
    child = os.fork()
    if child == 0:
        try:
            bring_home(paths.spare_journal, paths.journal)
        finally:
            os._exit(0)
    until = perf_counter() + after_s
    while perf_counter() < until:
        pass
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


@pytest.mark.slow
def test_kill_9_on_the_way_home_loses_nothing(paths: Paths, a_session: SessionLog) -> None:
    log = replace(a_session, rounds=a_session.rounds[:2])
    rng = random.Random(2)
    cut_short = 0
    for number in range(KILLS):
        keep(paths.spare_journal, a_day_later(log, number), f"{number:04}.yaml")
        kill_a_sweep(paths, rng.uniform(0, 0.012))
        cut_short += any(everything_in(paths.spare_journal))
    assert cut_short, "some kills should fall before the end"
    bring_home(paths.spare_journal, paths.journal)
    sessions, problems = read_sessions(paths.journal)
    assert problems == ()
    assert [each.session_id for each in sessions] == [f"day {number}" for number in range(KILLS)]
    assert everything_in(paths.spare_journal) == []


def test_the_next_practice_brings_it_home_and_says_so(paths: Paths, a_session: SessionLog) -> None:
    keep(paths.spare_journal, a_session)
    routine, _ = load_routine(SHIPPED_ROUTINES / "first_try.yaml")
    assert routine is not None
    now = datetime(2026, 11, 21, 9, 0, tzinfo=UTC)
    planned = planned_for(routine, now.date(), ())
    for told in (True, False):
        session = open_session(routine, planned, SimulatedPort(), paths, Beginning(now=lambda: now))
        assert (brought_words(1) in session.view().notices) == told
    assert kept_sessions(paths.journal_folders) == ((a_session,), ())
