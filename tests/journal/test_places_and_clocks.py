"""Folders that sync, folders on a network, and clocks that jump."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from trainer.app.paths import user_paths
from trainer.errors import JournalError
from trainer.journal.encode import session_text
from trainer.journal.kept import kept_sessions
from trainer.journal.log import LaterRemark, RoundLog, SessionLog
from trainer.journal.read import read_session, read_sessions
from trainer.journal.scales_plot import evenness_rounds
from trainer.journal.week_summary import week
from trainer.journal.write import JournalFile

HERE = ZoneInfo("Europe/Zurich")
STARTED = datetime(2026, 11, 20, 17, 5, 12, tzinfo=HERE)
NAME = "2026-11-20_17-05-12.yaml"


@pytest.fixture
def a_round(a_session: SessionLog) -> RoundLog:
    return replace(a_session.rounds[0], started=STARTED)


# Synced: the ways a syncing program names the other of two copies


COPIES = [
    "2026-11-20_17-05-12 (conflicted copy 2026-11-21).yaml",
    "2026-11-20_17-05-12 (Ilse's conflicted copy 2026-11-21 081000).yaml",
    "2026-11-20_17-05-12.sync-conflict-20261121-081000-ABCDEFG.yaml",
    "2026-11-20_17-05-12 2.yaml",
    "2026-11-20_17-05-12 (1).yaml",
    "2026-11-20_17-05-12_conflict-20261121-081000.yaml",
    "2026-11-20_17-05-12-Ilses-laptop.yaml",
    "2026-11-20_17-05-12 - Copy.yml",
    "Copy of 2026-11-20_17-05-12.yaml",
]
NO_SESSIONS = [
    "._2026-11-20_17-05-12.yaml",
    ".~2026-11-20_17-05-12.yaml",
    "2026-11-20_17-05-12.yaml~",
    "2026-11-20_17-05-12.yaml.tmp",
    ".2026-11-20_17-05-12.yaml.placeholder",
    ".2026-11-20_17-05-12-ab12.unfinished",
    ".2026-11-20_17-05-12.yaml.reserved",
]


@pytest.mark.parametrize("copy", COPIES)
@pytest.mark.parametrize("fuller", ["the copy", "the first"])
def test_a_copy_counts_once_the_fuller_of_the_two(
    copy: str, fuller: str, tmp_path: Path, a_session: SessionLog
) -> None:
    shorter = replace(a_session, rounds=a_session.rounds[:2], ended=None, felt="", remark="")
    contents = [session_text(shorter), session_text(a_session)]
    if fuller == "the first":
        contents.reverse()
    files = {tmp_path / NAME: contents[0], tmp_path / copy: contents[1]}
    for path, content in files.items():
        path.write_text(content)
    sessions, (problem,) = read_sessions(tmp_path, STARTED.date(), STARTED.date())
    assert [session_text(log) for log in sessions] == [session_text(a_session)]
    left = NAME if fuller == "the copy" else copy
    assert problem.path.name == left
    assert "a copy of the session" in problem.sentence
    assert {path: path.read_text() for path in tmp_path.iterdir()} == files, "nothing is deleted"


def test_all_of_them_at_once_count_once(tmp_path: Path, a_session: SessionLog) -> None:
    for name in [NAME, *COPIES]:
        (tmp_path / name).write_text(session_text(a_session))
    sessions, problems = read_sessions(tmp_path)
    assert len(sessions) == 1
    assert len(problems) == len(COPIES)
    assert len({problem.path for problem in problems}) == len(COPIES)


@pytest.mark.parametrize("name", NO_SESSIONS)
def test_what_syncing_leaves_beside_is_not_read(
    name: str, tmp_path: Path, a_session: SessionLog
) -> None:
    (tmp_path / NAME).write_text(session_text(a_session))
    (tmp_path / name).write_text("half a fi")
    sessions, problems = read_sessions(tmp_path)
    assert len(sessions) == 1
    assert problems == ()


def test_a_hand_written_session_is_known_by_its_start(tmp_path: Path) -> None:
    """It has no name of its own."""
    text = "version: 2\nstarted: 2026-11-20 17:05+01:00\n"
    (tmp_path / "2026-11-20.yaml").write_text(text)
    (tmp_path / "2026-11-20 2.yaml").write_text(text + "remark: Longer.\n")
    (tmp_path / "2026-11-20 evening.yaml").write_text(text.replace("17:05", "19:05"))
    sessions, problems = read_sessions(tmp_path)
    assert [log.remark for log in sessions] == ["Longer.", ""]
    assert [problem.path.name for problem in problems] == ["2026-11-20.yaml"]


def test_words_that_are_only_in_the_copy_are_told(tmp_path: Path, a_session: SessionLog) -> None:
    with_words = replace(
        a_session, rounds=a_session.rounds[:1], remarks=(LaterRemark("Not to be lost."),)
    )
    (tmp_path / NAME).write_text(session_text(a_session))
    (tmp_path / COPIES[0]).write_text(session_text(with_words))
    _, (problem,) = read_sessions(tmp_path)
    assert problem.path.name == COPIES[0]
    assert "other rounds or words" in problem.sentence


def test_a_session_in_both_folders_counts_once(tmp_path: Path, a_session: SessionLog) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path)})
    for folder, rounds in ((paths.journal, 2), (paths.spare_journal, 4)):
        folder.mkdir()
        log = replace(a_session, rounds=a_session.rounds[:rounds])
        (folder / NAME).write_text(session_text(log))
    sessions, (problem,) = kept_sessions(paths.journal_folders)
    assert [len(log.rounds) for log in sessions] == [4]
    assert problem.path == paths.journal / NAME
    assert str(paths.spare_journal) in problem.sentence, (
        "the same name: the folder tells them apart"
    )


# On a network, on a stick: calls that fail, or say they did


@pytest.mark.parametrize("code", [errno.EIO, errno.ESTALE, errno.ETIMEDOUT, errno.EHOSTDOWN])
@pytest.mark.parametrize("call", ["fsync", "link+replace", "replace"])
def test_a_call_that_fails_costs_nothing(
    call: str, code: int, tmp_path: Path, a_round: RoundLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    home, spare = tmp_path / "home", tmp_path / "spare"
    journal = JournalFile.begin(home, SessionLog(STARTED), spare)
    if call == "replace":
        journal.add_round(a_round)  # replacing needs something to replace
    before = journal.path.read_bytes() if journal.path.exists() else None

    def fail(source: object, *_: object) -> None:
        if str(home) in str(source) or isinstance(source, int):
            raise OSError(code, os.strerror(code))
        really(source, *_)  # the spare folder stands on another disk

    for name in call.split("+"):
        really = getattr(os, name)
        monkeypatch.setattr(os, name, fail)
    with pytest.raises(JournalError, match="kept in"):
        journal.add_round(a_round)
    assert (journal.path.read_bytes() if journal.path.exists() else None) == before
    leftovers = [path for path in home.iterdir() if path != journal.path]
    assert leftovers == [], "no half-written file is left"
    monkeypatch.undo()
    journal.add_round(a_round)
    log, problems = read_session(journal.path)
    assert problems == ()
    assert log is not None
    assert len(log.rounds) == len(journal.log.rounds)
    assert not spare.exists() or list(spare.iterdir()) == []


@pytest.mark.parametrize("code", [errno.EINVAL, errno.ENOSYS, errno.ENOTSUP])
def test_a_folder_that_knows_no_flushing_is_written_all_the_same(
    code: int, tmp_path: Path, a_round: RoundLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Linux manual page fsync(2): EINVAL where the file does not support synchronization."""

    def cannot(_: int) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(os, "fsync", cannot)
    journal = JournalFile.begin(tmp_path, SessionLog(STARTED))
    journal.add_round(a_round)
    assert journal.fault is None
    assert read_session(journal.path)[1] == ()


@pytest.mark.parametrize("call", ["link", "replace"])
def test_a_call_that_did_its_work_and_says_it_failed(
    call: str, tmp_path: Path, a_round: RoundLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Linux manual pages link(2) and rename(2), BUGS: over NFS a lost answer looks like failure."""
    really: Callable[..., None] = getattr(os, call)

    def lies(source: object, target: object) -> None:
        really(source, target)
        raise FileExistsError if call == "link" else FileNotFoundError

    monkeypatch.setattr(os, call, lies)
    journal = JournalFile.begin(tmp_path, SessionLog(STARTED))
    for number in (1, 2, 3):
        journal.add_round(replace(a_round, number=number))
    assert [path.name for path in tmp_path.iterdir()] == [NAME]
    sessions, problems = read_sessions(tmp_path)
    assert problems == ()
    assert [len(log.rounds) for log in sessions] == [3]


def test_no_empty_session_is_ever_seen_where_there_are_no_hard_links(
    tmp_path: Path, a_round: RoundLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "link", no_links)
    with monkeypatch.context() as patched:
        patched.setattr(os, "replace", stopped)
        with pytest.raises(KeyboardInterrupt):
            JournalFile.begin(tmp_path, SessionLog(STARTED)).add_round(a_round)
    assert read_sessions(tmp_path) == ((), ())
    journal = JournalFile.begin(tmp_path, SessionLog(STARTED))
    journal.add_round(a_round)
    assert len(read_sessions(tmp_path)[0]) == 1


def test_a_spare_folder_that_went_bad_is_no_fault_of_the_home(
    tmp_path: Path, a_round: RoundLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    home, spare = tmp_path / "home", tmp_path / "spare"
    home.write_text("in the way")
    journal = JournalFile.begin(home, SessionLog(STARTED), spare)
    with pytest.raises(JournalError):
        journal.add_round(a_round)
    assert journal.spare_path is not None
    home.unlink()
    read_bytes = Path.read_bytes

    def stale(path: Path) -> bytes:
        if path.is_relative_to(spare):
            raise OSError(errno.ESTALE, "Stale file handle")
        return read_bytes(path)

    monkeypatch.setattr(Path, "read_bytes", stale)
    journal.add_round(a_round)
    assert journal.fault is None
    assert len(read_sessions(home)[0]) == 1


# Clocks


def session_at(started: datetime, rounds: list[RoundLog], **facts: object) -> SessionLog:
    return SessionLog(started, rounds=tuple(rounds), session_id=str(started), **facts)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "jump", [timedelta(days=-9000), timedelta(hours=-3), timedelta(days=400), timedelta(days=20000)]
)
def test_a_clock_set_during_a_session_changes_neither_day_nor_order_nor_length(
    jump: timedelta, tmp_path: Path, a_round: RoundLog
) -> None:
    journal = JournalFile.begin(tmp_path, SessionLog(STARTED))
    scale = replace(a_round, kind=a_round.kind.TECHNIQUE, key="D major")
    evenness = (30.0, 20.0, 10.0, 5.0)
    for number, evenness_ms in enumerate(evenness):
        at = STARTED + timedelta(minutes=number) + (jump if number > 1 else timedelta())
        assert scale.measures is not None
        measures = replace(scale.measures, evenness_ms=evenness_ms)
        journal.add_round(replace(scale, started=at, measures=measures), 60.0 * (number + 1))
    journal.finish(STARTED + timedelta(minutes=5) + jump, 300.0)
    sessions, problems = read_sessions(tmp_path)
    assert problems == ()
    seven = week(sessions, STARTED.date())
    assert (seven.sessions, seven.minutes, seven.days_practised) == (1, 5.0, 1)
    in_order = evenness_rounds(seven, sessions, "D major")
    assert tuple(each.measures and each.measures.evenness_ms for _, each in in_order) == evenness


def test_a_clock_set_back_between_sessions_overwrites_nothing(
    tmp_path: Path, a_round: RoundLog
) -> None:
    """The second session begins at the very second the first did."""
    for _ in range(2):
        JournalFile.begin(tmp_path, SessionLog(STARTED)).add_round(a_round)
    sessions, problems = read_sessions(tmp_path)
    assert problems == ()
    assert len(sessions) == 2


def test_the_hour_that_comes_twice(tmp_path: Path, a_round: RoundLog) -> None:
    """25 October 2026, 02:30 in Zürich, before and after the clocks go back an hour."""
    for fold in (1, 0):
        started = datetime(2026, 10, 25, 2, 30, tzinfo=HERE, fold=fold)
        JournalFile.begin(tmp_path, SessionLog(started)).add_round(a_round, 60.0 * (1 + fold))
    assert len(list(tmp_path.iterdir())) == 2
    sessions, problems = read_sessions(tmp_path, date(2026, 10, 25), date(2026, 10, 25))
    assert problems == ()
    assert [log.elapsed_s for log in sessions] == [60, 120], "in the order they happened"
    assert [log.started.utcoffset() for log in sessions] == [timedelta(hours=2), timedelta(hours=1)]
    assert week(sessions, date(2026, 10, 25)).days[-1].minutes == 3


def test_a_session_across_the_change_lasts_as_long_as_it_lasted(
    tmp_path: Path, a_round: RoundLog
) -> None:
    """Begun 01:50, over 02:10 by the clock: an hour and twenty minutes, not twenty."""
    started = datetime(2026, 10, 25, 1, 50, tzinfo=HERE)
    journal = JournalFile.begin(tmp_path, SessionLog(started))
    journal.add_round(a_round, 4800.0)
    journal.finish(datetime(2026, 10, 25, 2, 10, tzinfo=HERE, fold=1), 4800.0)
    log, _ = read_session(journal.path)
    assert log is not None
    assert log.lasted_s == 4800
    assert log.ended is not None
    assert log.ended - log.started == timedelta(minutes=80)


def test_the_day_is_the_day_where_the_student_was(tmp_path: Path, a_round: RoundLog) -> None:
    """Flown west over the date line: the later session stands on the earlier date."""
    auckland = datetime(2026, 11, 20, 9, 0, tzinfo=ZoneInfo("Pacific/Auckland"))
    honolulu = datetime(2026, 11, 19, 20, 0, tzinfo=ZoneInfo("Pacific/Honolulu"))
    assert honolulu > auckland
    for started in (auckland, honolulu):
        JournalFile.begin(tmp_path, SessionLog(started)).add_round(a_round)
    assert [path.name[:10] for path in sorted(tmp_path.iterdir())] == ["2026-11-19", "2026-11-20"]
    sessions, _ = read_sessions(tmp_path)
    assert [log.day.day for log in sessions] == [20, 19], "in the order they happened"
    seven = week(sessions, date(2026, 11, 20))
    assert [day.sessions for day in seven.days[-2:]] == [1, 1]


def test_a_zone_of_odd_minutes_keeps_its_day(tmp_path: Path, a_round: RoundLog) -> None:
    for hours, minutes in ((5, 45), (-3, -30), (14, 0), (-12, 0)):
        zone = timezone(timedelta(hours=hours, minutes=minutes))
        started = datetime(2026, 11, 20, 23, 59, 59, tzinfo=zone)
        JournalFile.begin(tmp_path, SessionLog(started)).add_round(a_round)
    sessions, problems = read_sessions(tmp_path, date(2026, 11, 20), date(2026, 11, 20))
    assert problems == ()
    assert len(sessions) == 4
    order = [log.started.astimezone(UTC) for log in sessions]
    assert order == sorted(order)
