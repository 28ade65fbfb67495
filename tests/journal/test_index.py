"""The index answers as the files do, whatever happens to either."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from trainer.journal import index
from trainer.journal.encode import session_text
from trainer.journal.index import index_file, read_summaries
from trainer.journal.log import SessionLog
from trainer.journal.read import JournalProblem, read_sessions
from trainer.journal.summary import SessionSummary, session_summary

ENDING = date(2026, 11, 22)
Days = tuple[date | None, date | None]


@pytest.fixture
def folder(tmp_path: Path, invented_weeks: Callable[[int, date], list[SessionLog]]) -> Path:
    """Four sessions of two weeks, a copied one, a broken one and one with a broken round."""
    folder = tmp_path / "journal"
    folder.mkdir()
    days = {10, 12, 17, 22}
    logs = [
        replace(log, rounds=log.rounds[:2])
        for log in invented_weeks(3, ENDING)
        if log.day.day in days
    ]
    assert {log.day.day for log in logs} == days
    for log in logs:
        (folder / f"{log.started:%Y-%m-%d_%H-%M-%S}.yaml").write_text(session_text(log))
    (folder / "2026-11-18 copy.yaml").write_text(session_text(replace(logs[-1], ended=None)))
    (folder / "2026-11-19_10-00-00.yaml").write_text("version: [")
    text = session_text(replace(logs[0], session_id="odd"))
    broken = text.replace("  tempo_bpm: 66\n", "  tempo_bpm: fast\n", 1)
    (folder / "renamed.yaml").write_text(broken)
    os.close(os.open(os.fsencode(folder) + b"/2026-11-20 \xff.yaml", os.O_CREAT))
    return folder


@pytest.fixture
def state(tmp_path: Path) -> Path:
    return tmp_path / "state"


def directly(
    folder: Path, days: Days = (None, None)
) -> tuple[tuple[SessionSummary, ...], tuple[JournalProblem, ...]]:
    sessions, problems = read_sessions(folder, *days)
    return tuple(session_summary(log) for log in sessions), problems


def files_read(
    monkeypatch: pytest.MonkeyPatch, folder: Path, state: Path, days: Days = (None, None)
) -> list[str]:
    """Names of the files the index opened for an answer."""
    opened: list[str] = []
    read = index.read_session

    def noted(path: Path) -> tuple[SessionLog | None, tuple[JournalProblem, ...]]:
        opened.append(path.name)
        return read(path)

    with monkeypatch.context() as patch:
        patch.setattr(index, "read_session", noted)
        read_summaries(folder, state, *days)
    return opened


@pytest.mark.parametrize(
    "days",
    [(None, None), (date(2026, 11, 16), ENDING), (None, date(2026, 11, 15)),
     (date(2030, 1, 1), None)],
)  # fmt: skip
def test_it_answers_as_the_files_do(days: Days, folder: Path, state: Path) -> None:
    expected = directly(folder, days)
    assert read_summaries(folder, state, *days) == expected, "first build"
    assert read_summaries(folder, state, *days) == expected, "from the cache"
    read_summaries(folder, state)
    assert read_summaries(folder, state, *days) == expected, "from a cache of all days"


def test_only_what_changed_is_opened(
    folder: Path, state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    everything = {path.name for path in folder.iterdir()}
    assert set(files_read(monkeypatch, folder, state)) == everything
    copies = {"2026-11-18 copy.yaml", "2026-11-22_17-05-12.yaml"}
    assert set(files_read(monkeypatch, folder, state)) <= copies
    week = (date(2026, 11, 10), date(2026, 11, 13))
    assert files_read(monkeypatch, folder, state, week) == []


def changed(how: str, path: Path, a_session: SessionLog) -> None:
    text = path.read_text()
    match how:
        case "vanished":
            path.unlink()
        case "longer":
            path.write_text(session_text(a_session))
        case "broken":
            path.write_text("rounds: {")
        case "same size":
            path.write_text(text.replace("tempo_bpm: 66", "tempo_bpm: 99"))
            stamp = path.stat().st_mtime_ns + 1_000_000_000
            os.utime(path, ns=(stamp, stamp))
        case "back in time":
            path.write_text(text.replace("tempo_bpm: 66", "tempo_bpm: 99"))
            os.utime(path, ns=(0, 0))
        case "renamed":
            path.rename(path.with_name("moved.yaml"))
        case "new":
            path.with_name("2026-11-14_23-00-00.yaml").write_text(session_text(a_session))
        case "a folder now":
            path.unlink()
            path.mkdir()


@pytest.mark.parametrize(
    "how",
    ["vanished", "longer", "broken", "same size", "back in time", "renamed", "new", "a folder now"],
)
def test_every_change_is_noticed(
    how: str, folder: Path, state: Path, a_session: SessionLog
) -> None:
    before = read_summaries(folder, state)
    path = folder / "2026-11-12_17-05-12.yaml"
    assert path.exists()
    changed(how, path, a_session)
    after = directly(folder)
    assert after != before or how == "renamed"
    assert read_summaries(folder, state) == after


def test_a_mended_file_is_no_longer_told(folder: Path, state: Path, a_session: SessionLog) -> None:
    read_summaries(folder, state)
    (folder / "2026-11-19_10-00-00.yaml").write_text(session_text(a_session))
    summaries, problems = read_summaries(folder, state)
    assert (summaries, problems) == directly(folder)
    assert "2026-11-19_10-00-00.yaml" not in {problem.path.name for problem in problems}


def spoiled(how: str, cache: Path) -> None:
    match how:
        case "deleted":
            cache.unlink()
        case "rubbish":
            cache.write_bytes(b"not a database at all" * 400)
        case "cut short":
            cache.write_bytes(cache.read_bytes()[: cache.stat().st_size // 2])
        case "empty":
            cache.write_bytes(b"")
        case "a folder":
            cache.unlink()
            cache.mkdir()
        case _:
            statement = {
                "another form": "PRAGMA user_version = 7",
                "odd row": "UPDATE file SET summary = '{\"started\": 3}' WHERE summary IS NOT NULL",
                "row of no JSON": "UPDATE file SET problems = 'x'",
                "no table": "DROP TABLE file",
            }[how]
            base = sqlite3.connect(cache)
            base.execute(statement)
            base.commit()
            base.close()


@pytest.mark.parametrize(
    "how",
    ["deleted", "rubbish", "cut short", "empty", "a folder", "another form", "odd row",
     "row of no JSON", "no table"],
)  # fmt: skip
def test_a_spoiled_cache_costs_only_time(
    how: str, folder: Path, state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read_summaries(folder, state)
    spoiled(how, index_file(folder, state))
    assert read_summaries(folder, state) == directly(folder)
    if how != "a folder":
        assert len(files_read(monkeypatch, folder, state)) <= 2, "it is whole again"


def test_a_state_folder_that_cannot_be_written_costs_only_time(folder: Path, state: Path) -> None:
    state.write_text("a file stands in the way")
    assert read_summaries(folder, state) == directly(folder)


def test_a_cache_in_use_costs_only_time(
    folder: Path, state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(index, "PATIENCE_S", 0.0)
    read_summaries(folder, state)
    (folder / "2026-11-12_17-05-12.yaml").unlink()
    (folder / "renamed.yaml").write_text("")
    other = sqlite3.connect(index_file(folder, state))
    other.execute("BEGIN EXCLUSIVE")
    assert read_summaries(folder, state) == directly(folder)
    other.rollback()
    other.close()


def test_two_journals_do_not_mix(folder: Path, state: Path, a_session: SessionLog) -> None:
    other = folder.with_name("other journal")
    other.mkdir()
    (other / "2026-11-20_17-05-12.yaml").write_text(session_text(a_session))
    read_summaries(folder, state)
    assert read_summaries(other, state) == directly(other)
    assert read_summaries(folder, state) == directly(folder)


def test_vanished_files_are_forgotten(folder: Path, state: Path) -> None:
    read_summaries(folder, state)
    (folder / "2026-11-12_17-05-12.yaml").unlink()
    read_summaries(folder, state)
    base = sqlite3.connect(index_file(folder, state))
    names = {os.fsdecode(name) for (name,) in base.execute("SELECT name FROM file")}
    base.close()
    assert names == {path.name for path in folder.iterdir()}


def test_a_folder_that_is_not_there_holds_nothing(tmp_path: Path, state: Path) -> None:
    assert read_summaries(tmp_path / "none", state) == ((), ())


def test_a_summary_is_counted_right(a_session: SessionLog) -> None:
    """Recounted in plain Python."""
    summary = session_summary(a_session)
    assert summary.day == a_session.day
    assert summary.rounds == len(a_session.rounds)
    assert summary.lasted_s == 1320
    assert sum(kind.played_s for kind in summary.kinds) == pytest.approx(summary.played_s)
    assert sum(kind.rounds for kind in summary.kinds) == summary.rounds
    secure = [round_ for round_ in a_session.rounds if round_.secure]
    assert summary.secure_rounds == len(secure)
    held = [bpm for scale in summary.scales for bpm in scale.secure_bpm]
    assert held == [r.tempo_bpm for r in secure if r.key]
    assert {scale.key for scale in summary.scales} == {"D major"}
    d5 = [
        note.cents
        for round_ in a_session.rounds
        for note in round_.notes
        if note.written == "D5" and note.cents is not None
    ]
    low, high = min(d5), max(d5)
    (tuning,) = [each for each in summary.tuning if each.midi == 74]
    assert low <= tuning.cents <= high


def test_a_session_of_another_offset_comes_back(
    folder: Path, state: Path, a_session: SessionLog
) -> None:
    started = datetime.fromisoformat("2026-11-21T23:59:59-09:30")
    log = replace(a_session, started=started, ended=started + timedelta(hours=1), session_id="far")
    (folder / "2026-11-21_23-59-59.yaml").write_text(session_text(log))
    read_summaries(folder, state)
    summaries, _ = read_summaries(folder, state)
    (far,) = [each for each in summaries if each.session_id == "far"]
    assert far.started.isoformat() == "2026-11-21T23:59:59-09:30"
    assert far.day == date(2026, 11, 21)
