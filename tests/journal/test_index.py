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
from trainer.journal.index import Index, ask_index, index_file
from trainer.journal.log import SessionLog
from trainer.journal.outline import outline, piece_of, session_tuning
from trainer.journal.read import JournalProblem, read_sessions
from trainer.music.note import Articulation

ENDING = date(2026, 11, 22)
Days = tuple[date, date]
ALL: Days = (date.min, date.max)
Answer = tuple[tuple[SessionLog, ...], tuple[JournalProblem, ...]]


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


def directly(folder: Path, days: Days = ALL) -> Answer:
    sessions, problems = read_sessions(folder, *days)
    return tuple(outline(log) for log in sessions), problems


def indexed(folder: Path, state: Path, days: Days = ALL) -> Answer:
    return ask_index(lambda asked: asked.sessions(*days), [folder], state, days)


def files_read(
    monkeypatch: pytest.MonkeyPatch, folder: Path, state: Path, days: Days = ALL
) -> list[str]:
    """Names of the files the index opened for an answer."""
    opened: list[str] = []
    read = index.read_session

    def noted(path: Path) -> tuple[SessionLog | None, tuple[JournalProblem, ...]]:
        opened.append(path.name)
        return read(path)

    with monkeypatch.context() as patch:
        patch.setattr(index, "read_session", noted)
        ask_index(lambda asked: asked.sessions(*days), [folder], state, days, noted)
    return opened


@pytest.mark.parametrize(
    "days",
    [ALL, (date(2026, 11, 16), ENDING), (date.min, date(2026, 11, 15)),
     (date(2030, 1, 1), date.max)],
)  # fmt: skip
def test_it_answers_as_the_files_do(days: Days, folder: Path, state: Path) -> None:
    expected = directly(folder, days)
    assert indexed(folder, state, days) == expected, "first build"
    assert indexed(folder, state, days) == expected, "from the cache"
    indexed(folder, state)
    assert indexed(folder, state, days) == expected, "from a cache of all days"


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
    before = indexed(folder, state)
    path = folder / "2026-11-12_17-05-12.yaml"
    assert path.exists()
    changed(how, path, a_session)
    after = directly(folder)
    assert after != before or how == "renamed"
    assert indexed(folder, state) == after


def test_a_mended_file_is_no_longer_told(folder: Path, state: Path, a_session: SessionLog) -> None:
    indexed(folder, state)
    (folder / "2026-11-19_10-00-00.yaml").write_text(session_text(a_session))
    sessions, problems = indexed(folder, state)
    assert (sessions, problems) == directly(folder)
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
                "odd row": "UPDATE file SET session = '{\"started\": 3}' WHERE session IS NOT NULL",
                "row of no JSON": "UPDATE file SET problems = 'x'",
                "no table": "DROP TABLE file",
                "no rounds": "DROP TABLE round",
            }[how]
            base = sqlite3.connect(cache)
            base.execute(statement)
            base.commit()
            base.close()


@pytest.mark.parametrize(
    "how",
    ["deleted", "rubbish", "cut short", "empty", "a folder", "another form", "odd row",
     "row of no JSON", "no table", "no rounds"],
)  # fmt: skip
def test_a_spoiled_cache_costs_only_time(
    how: str, folder: Path, state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    indexed(folder, state)
    spoiled(how, index_file([folder], state))
    assert indexed(folder, state) == directly(folder)
    if how != "a folder":
        assert len(files_read(monkeypatch, folder, state)) <= 2, "it is whole again"


def test_a_state_folder_that_cannot_be_written_costs_only_time(folder: Path, state: Path) -> None:
    state.write_text("a file stands in the way")
    assert indexed(folder, state) == directly(folder)


def test_a_cache_in_use_costs_only_time(
    folder: Path, state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(index, "PATIENCE_S", 0.0)
    indexed(folder, state)
    (folder / "2026-11-12_17-05-12.yaml").unlink()
    (folder / "renamed.yaml").write_text("")
    other = sqlite3.connect(index_file([folder], state))
    other.execute("BEGIN EXCLUSIVE")
    assert indexed(folder, state) == directly(folder)
    other.rollback()
    other.close()


def test_two_journals_do_not_mix(folder: Path, state: Path, a_session: SessionLog) -> None:
    other = folder.with_name("other journal")
    other.mkdir()
    (other / "2026-11-20_17-05-12.yaml").write_text(session_text(a_session))
    indexed(folder, state)
    assert indexed(other, state) == directly(other)
    assert indexed(folder, state) == directly(folder)


def test_vanished_files_are_forgotten(folder: Path, state: Path) -> None:
    indexed(folder, state)
    (folder / "2026-11-12_17-05-12.yaml").unlink()
    indexed(folder, state)
    base = sqlite3.connect(index_file([folder], state))
    names = {os.fsdecode(name) for (name,) in base.execute("SELECT path FROM file")}
    base.close()
    assert names == {str(path) for path in folder.iterdir()}


def test_only_the_days_asked_for_are_kept(folder: Path, state: Path) -> None:
    indexed(folder, state)
    days = (date(2026, 11, 16), ENDING)
    indexed(folder, state, days)
    base = sqlite3.connect(index_file([folder], state))
    kept = {day for (day,) in base.execute("SELECT day FROM file WHERE day IS NOT NULL")}
    rounds = base.execute("SELECT COUNT(*) FROM round WHERE file NOT IN (SELECT id FROM file)")
    assert rounds.fetchone() == (0,)
    base.close()
    assert {"2026-11-17", "2026-11-22"} <= kept
    assert "2026-11-12" not in kept
    assert indexed(folder, state) == directly(folder)


def test_a_folder_that_is_not_there_holds_nothing(tmp_path: Path, state: Path) -> None:
    assert indexed(tmp_path / "none", state) == ((), ())


def test_tuning_comes_back(folder: Path, state: Path) -> None:
    sessions, _ = read_sessions(folder)
    tunings, _ = ask_index(lambda asked: asked.tunings(*ALL), [folder], state)
    assert sorted(tunings, key=str) == sorted(map(session_tuning, sessions), key=str)
    assert any(tuning.cents for tuning in tunings)


def test_secure_rounds_and_pieces_are_those_of_the_files(folder: Path, state: Path) -> None:
    sessions, _ = read_sessions(folder)
    last = date(2026, 11, 17)
    rounds = [(log.day, r) for log in sessions if log.day <= last for r in log.rounds]

    def ask(asked: Index) -> object:
        pieces = asked.pieces(last)
        held = {
            (piece, articulation): list(asked.secure_rounds(piece, articulation, last))
            for piece in pieces
            for articulation in Articulation
        }
        return pieces, {place: found for place, found in held.items() if found}

    expected_pieces = {piece_of(r): max(d for d, o in rounds if piece_of(o) == piece_of(r))
                       for _, r in rounds if piece_of(r)}  # fmt: skip
    expected_held: dict[object, list[tuple[float, date]]] = {}
    for day, round_ in rounds:
        if piece_of(round_) and round_.secure:
            place = (piece_of(round_), round_.articulation)
            expected_held.setdefault(place, []).append((round_.tempo_bpm, day))
    for found in expected_held.values():
        found.sort(key=lambda each: (-each[0], each[1]))
    assert expected_held
    assert ask_index(ask, [folder], state)[0] == (expected_pieces, expected_held)


def test_an_outline_is_its_own_outline_and_holds_no_words(a_session: SessionLog) -> None:
    said = replace(a_session, felt="tired", remark="private thought", private=True)
    assert outline(outline(said)) == outline(said)
    assert "private thought" not in repr(outline(said))
    assert not any(round_.notes for round_ in outline(said).rounds)


def test_two_folders_are_one_journal(folder: Path, state: Path, a_session: SessionLog) -> None:
    spare = folder.with_name("spare")
    spare.mkdir()
    (spare / "2026-11-20_17-05-12.yaml").write_text(
        session_text(replace(a_session, session_id="elsewhere"))
    )
    sessions, _ = ask_index(lambda asked: asked.sessions(*ALL), [folder, spare], state)
    assert {log.session_id for log in sessions} == {
        log.session_id for part in (folder, spare) for log in directly(part)[0]
    }


def test_a_session_of_another_offset_comes_back(
    folder: Path, state: Path, a_session: SessionLog
) -> None:
    started = datetime.fromisoformat("2026-11-21T23:59:59-09:30")
    log = replace(a_session, started=started, ended=started + timedelta(hours=1), session_id="far")
    (folder / "2026-11-21_23-59-59.yaml").write_text(session_text(log))
    indexed(folder, state)
    sessions, _ = indexed(folder, state)
    (far,) = [each for each in sessions if each.session_id == "far"]
    assert far.started.isoformat() == "2026-11-21T23:59:59-09:30"
    assert far.day == date(2026, 11, 21)
