"""No finished round is ever lost: kills, full disks, closed folders, two trainers, other hands."""

from __future__ import annotations

import errno
import os
import random
import resource
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter
from zoneinfo import ZoneInfo

import pytest
import yaml

from trainer.errors import JournalError
from trainer.journal.encode import round_text
from trainer.journal.log import RoundLog, SessionLog
from trainer.journal.read import read_session, read_sessions
from trainer.journal.write import JournalFile

KILLS = int(os.environ.get("TRAINER_KILLS", "80"))
"""`TRAINER_KILLS=1000 pytest tests/journal/test_write.py -k kill` for the long run."""
NOBODY = 65534
READY = b"r"
STARTED = datetime(2026, 11, 23, 17, 5, 12, tzinfo=ZoneInfo("Europe/Zurich"))


@pytest.fixture
def a_round(a_session: SessionLog) -> RoundLog:
    return max(a_session.rounds, key=lambda round_: len(round_.notes))


def yaml_files(folder: Path) -> list[Path]:
    return sorted(folder.glob("*.yaml"))


def rounds_on_disk(path: Path) -> int:
    return len(yaml.safe_load(path.read_bytes())["rounds"])


# Killed at random moments


def write_until_killed(folder: Path, log: SessionLog, round_: RoundLog, done: int) -> None:
    """In a child process: tell through `done` each round that is finished and written."""
    journal = JournalFile.begin(folder, log)
    os.write(done, READY)
    for number in range(1, 1_000_000):
        journal.add_round(replace(round_, number=number))
        os.write(done, b"x")


def kill_a_writer(
    folder: Path, log: SessionLog, round_: RoundLog, first: int, after_s: float
) -> int:
    """Kill -9 a writing child some time after its first rounds; how many it surely finished."""
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            write_until_killed(folder, log, round_, write_end)
        finally:
            os._exit(1)
    os.close(write_end)
    assert os.read(read_end, 1) == READY
    for _ in range(first):
        os.read(read_end, 1)
    until = perf_counter() + after_s
    while perf_counter() < until:
        pass
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WTERMSIG(status) == signal.SIGKILL, "the writer failed by itself"
    finished = first + len(os.read(read_end, 1_000_000))
    os.close(read_end)
    return finished


def no_hard_links(*_: object) -> None:
    """Memory sticks (FAT) refuse link(2) with EPERM: Linux man page link(2)."""
    raise OSError(errno.EPERM, "Operation not permitted")


@pytest.mark.slow
@pytest.mark.parametrize("links", [True, False], ids=["a disk", "a memory stick"])
def test_kill_9_costs_at_most_the_round_under_way(
    links: bool, tmp_path: Path, a_round: RoundLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not links:
        monkeypatch.setattr(os, "link", no_hard_links)
    rng = random.Random(1)
    finished: dict[datetime, int] = {}
    for number in range(KILLS):
        log = SessionLog(STARTED + timedelta(minutes=number))
        after_s = rng.uniform(0, 0.03)
        finished[log.started] = kill_a_writer(tmp_path, log, a_round, number % 3, after_s)
    sessions, problems = read_sessions(tmp_path)
    assert problems == ()
    found = {log.started: [round_.number for round_ in log.rounds] for log in sessions}
    for started, sure in finished.items():
        numbers = found.get(started, [])
        assert numbers == list(range(1, len(numbers) + 1))
        assert sure <= len(numbers) <= sure + 1
    assert len(set(finished.values())) > 1, "the kills should fall at different moments"


# Disks that refuse


@contextmanager
def largest_file(size: int) -> Iterator[None]:
    """No file may grow beyond `size` bytes: the disk refuses halfway through a write."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_a_disk_that_refuses_keeps_the_old_file_and_the_log(
    tmp_path: Path, a_round: RoundLog
) -> None:
    journal = JournalFile.begin(tmp_path, SessionLog(STARTED))
    journal.add_round(a_round)
    before = journal.path.read_bytes()
    with largest_file(len(before) + 10), pytest.raises(JournalError, match="disk is full"):
        journal.add_round(a_round)
    assert journal.path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [journal.path], "no half-written file is left"
    assert len(journal.log.rounds) == 2
    assert journal.fault is not None

    journal.add_round(a_round)
    assert rounds_on_disk(journal.path) == 3
    assert journal.fault is None


@pytest.fixture
def tiny_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 32 kB."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=32k", "tmpfs", str(disk)]
    if os.geteuid() != 0 or subprocess.run(mount, capture_output=True).returncode != 0:
        pytest.skip("only a superuser who may mount can make a tiny disk")
    yield disk
    subprocess.run(["umount", str(disk)], check=True)


def test_a_truly_full_disk(tiny_disk: Path, tmp_path: Path, a_round: RoundLog) -> None:
    spare = tmp_path / "spare"
    journal = JournalFile.begin(tiny_disk / "journal", SessionLog(STARTED), spare)
    with pytest.raises(JournalError, match="disk is full"):
        write_rounds(journal, [a_round] * 50)
    played = len(journal.log.rounds)
    assert rounds_on_disk(journal.path) == played - 1
    assert journal.spare_path is not None
    assert rounds_on_disk(journal.spare_path) == played


@pytest.fixture
def closed_folder() -> Iterator[Path]:
    """A folder the one running the test may not write to, a superuser neither."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o555)
    was_root = os.geteuid() == 0
    if was_root:
        os.seteuid(NOBODY)
    yield folder
    if was_root:
        os.seteuid(0)
    folder.chmod(0o755)
    shutil.rmtree(folder)


def test_a_read_only_folder_is_told_before_playing(closed_folder: Path, a_round: RoundLog) -> None:
    journal = JournalFile.begin(closed_folder, SessionLog(STARTED))
    assert journal.fault is not None
    assert str(closed_folder) in journal.fault
    assert "may not write there" in journal.fault
    with pytest.raises(JournalError, match="kept in memory only"):
        journal.add_round(a_round)
    assert journal.log.rounds == (a_round,)


def test_a_read_only_folder_sends_the_session_to_the_spare_one(
    closed_folder: Path, a_round: RoundLog
) -> None:
    with tempfile.TemporaryDirectory() as spare:
        journal = JournalFile.begin(closed_folder, SessionLog(STARTED), Path(spare))
        with pytest.raises(JournalError, match=f"kept in {spare}"):
            journal.add_round(a_round)
        assert journal.spare_path is not None
        assert rounds_on_disk(journal.spare_path) == 1

        if os.geteuid() == NOBODY:
            os.seteuid(0)
        closed_folder.chmod(0o755)
        journal.save()
        assert rounds_on_disk(journal.path) == 1
        assert journal.fault is None
        assert list(Path(spare).iterdir()) == [], "the spare copy goes when the folder is back"


def test_a_file_where_the_folder_should_be(tmp_path: Path, a_round: RoundLog) -> None:
    (tmp_path / "journal").write_text("mine")
    journal = JournalFile.begin(tmp_path / "journal", SessionLog(STARTED))
    assert journal.fault is not None
    with pytest.raises(JournalError):
        journal.add_round(a_round)
    assert (tmp_path / "journal").read_text() == "mine"


def test_a_folder_taken_away_is_made_again(tmp_path: Path, a_round: RoundLog) -> None:
    journal = JournalFile.begin(tmp_path / "stick", SessionLog(STARTED))
    journal.add_round(a_round)
    shutil.rmtree(tmp_path / "stick")
    journal.add_round(a_round)
    assert rounds_on_disk(journal.path) == 2


def test_a_folder_without_hard_links(
    tmp_path: Path, a_round: RoundLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "link", no_hard_links)
    first = JournalFile.begin(tmp_path, SessionLog(STARTED))
    second = JournalFile.begin(tmp_path, SessionLog(STARTED))
    for journal in (first, second, first):
        journal.add_round(a_round)
    assert [rounds_on_disk(path) for path in yaml_files(tmp_path)] == [1, 2]
    assert first.path != second.path


def write_rounds(journal: JournalFile, rounds: list[RoundLog]) -> None:
    for round_ in rounds:
        journal.add_round(round_)


# Two trainers, and other hands on the file


def write_many(folder: Path, log: SessionLog, round_: RoundLog) -> None:
    journal = JournalFile.begin(folder, log)
    for number in range(1, 9):
        journal.add_round(replace(round_, number=number))


def test_two_trainers_at_once(tmp_path: Path, a_round: RoundLog) -> None:
    """Started in the same second, in the same folder."""
    context = get_context("fork")
    writers = [
        context.Process(target=write_many, args=(tmp_path, SessionLog(STARTED), a_round))
        for _ in range(4)
    ]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    sessions, problems = read_sessions(tmp_path)
    assert problems == ()
    assert [len(session.rounds) for session in sessions] == [8] * 4
    assert len({session.session_id for session in sessions}) == 4


def test_a_file_already_there_is_never_touched(tmp_path: Path, a_round: RoundLog) -> None:
    taken = tmp_path / "2026-11-23_17-05-12.yaml"
    taken.write_text("my own notes")
    journal = JournalFile.begin(tmp_path, SessionLog(STARTED))
    journal.add_round(a_round)
    assert taken.read_text() == "my own notes"
    assert journal.path.name == "2026-11-23_17-05-12-2.yaml"


def test_a_file_edited_meanwhile_stays_and_the_session_goes_on_beside_it(
    tmp_path: Path, a_round: RoundLog
) -> None:
    journal = JournalFile.begin(tmp_path, SessionLog(STARTED))
    journal.add_round(a_round)
    edited = journal.path
    with edited.open("a") as file:
        file.write("# the teacher was here\n")
    journal.add_round(replace(a_round, number=2))
    assert edited.read_text().endswith("was here\n")
    assert rounds_on_disk(journal.path) == 2
    sessions, problems = read_sessions(tmp_path)
    assert [len(session.rounds) for session in sessions] == [2], "the same session counts once"
    assert [problem.path for problem in problems] == [edited]


def test_a_link_to_elsewhere_is_not_written_through(tmp_path: Path, a_round: RoundLog) -> None:
    elsewhere = tmp_path / "elsewhere.txt"
    elsewhere.write_text("mine")
    folder = tmp_path / "journal"
    folder.mkdir()
    (folder / "2026-11-23_17-05-12.yaml").symlink_to(elsewhere)
    JournalFile.begin(folder, SessionLog(STARTED)).add_round(a_round)
    assert elsewhere.read_text() == "mine"


# The session's course


def test_opening_and_closing_leaves_no_file(tmp_path: Path) -> None:
    journal = JournalFile.begin(tmp_path / "journal", SessionLog(STARTED))
    journal.finish(STARTED)
    assert list((tmp_path / "journal").iterdir()) == []


def test_a_remark_alone_is_worth_a_file(tmp_path: Path) -> None:
    journal = JournalFile.begin(tmp_path, SessionLog(STARTED))
    journal.finish(STARTED, 60, remark="No time today.")
    log, problems = read_session(journal.path)
    assert problems == ()
    assert log is not None
    assert log.remark == "No time today."


def test_the_file_holds_what_was_said_at_the_end(tmp_path: Path, a_round: RoundLog) -> None:
    journal = JournalFile.begin(tmp_path, SessionLog(STARTED))
    journal.add_round(a_round, 40.0)
    assert yaml.safe_load(journal.path.read_bytes())["elapsed_s"] == 40
    ended = STARTED + timedelta(minutes=9)
    journal.finish(ended, 540.0, felt="light", remark="Better.")
    log, _ = read_session(journal.path)
    assert log is not None
    assert (log.ended, log.elapsed_s, log.felt, log.remark) == (ended, 540, "light", "Better.")
    assert [round_text(round_) for round_ in log.rounds] == [round_text(a_round)]


def test_names_suit_every_system(tmp_path: Path, a_round: RoundLog) -> None:
    """Windows forbids < > : \" / \\ | ? * in names (Microsoft, 'Naming Files, Paths')."""
    journal = JournalFile.begin(tmp_path, SessionLog(STARTED))
    journal.add_round(a_round)
    assert set(journal.path.name).isdisjoint('<>:"/\\|?* ')
