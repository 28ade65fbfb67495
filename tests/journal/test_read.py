"""Broken files: each is told in a sentence, hides no other, and stays as it is."""

from __future__ import annotations

import os
import random
import re
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from trainer.journal.encode import session_text
from trainer.journal.log import SessionLog
from trainer.journal.read import read_session, read_sessions

FUZZED = 200
HERE = ZoneInfo("Europe/Zurich")

Broken = tuple[str, str, str]
"""What is replaced in a good file, by what, and what the sentence must say."""

COST_THE_FILE: list[Broken] = [
    ("version: 2\n", "", "'version' is missing"),
    ("version: 2\n", "version: 3\n", "newer trainer"),
    ("version: 2\n", "version: -1\n", "never was"),
    ("version: 2\n", "version: one\n", "should be a number"),
    ("version: 2\n", "version: 1.5\n", "whole number"),
    ("version: 2\n", "version: yes\n", "should be a number"),
    ("version: 2\n", "version:\n", "'version' is missing"),
    ("version: 2\n", "version: [1]\n", "should be a number"),
    ("version: 2\n", "\tversion: 2\n", "YAML"),
    ("version: 2\n", "version: 2\n<<<<<<< mine\n", "YAML"),
    ("started: 2026-11-20 17:05:12+01:00\nended", "ended", "'started' is missing"),
    ("started: 2026-11-20 17:05", "started: 2026-13-20 17:05", "is no time"),
    ("started: 2026-11-20 17:05", "started: yesterday at five #", "is no time"),
    ("started: 2026-11-20 17:05:12+01:00", "started: [2026]", "is no time"),
    ("rounds:", "rounds: [", "YAML"),
    ("rounds:", "rounds: {{{", "can't follow|can't be the name"),
    ("student: ", "student: *nobody ", "is not read here"),
    ("student: ", "student: !!python/object:os.system ", "is not read here"),
    ("student: ", "student: 'Ilse\n", "YAML"),
    ("student: ", "student: \x07", "can't be printed"),
    ("student: ", "---\nstudent: ", "second document"),
    ("- {note: D4,", "- {note: D4", "YAML"),
    ("- {note: D4,", "- note: D4,", "YAML"),
    ("  notes:", " notes:", "YAML"),
    ("routine: ", "routine routine ", "YAML"),
    ("felt", "? {a: b}\n: - \nfelt", "can't be the name"),
    ("student: ", "student: " + "[" * 100_000, "too deep inside each other"),
    ("version: 2", f"version: {'1' * 5000}", "should be a number"),
    ("started: 2026-11-20 17:05:12+01:00", "started: 0001-01-01 00:30:00+10:00", "in a year from"),
    ("started: 2026-11-20 17:05:12+01:00", "started: 9999-12-31 23:30:00-10:00", "in a year from"),
    ("started: 2026-11-20 17:05:12+01:00", "started: !!timestamp abc", "is no time"),
    ("student: ", "x: !!bool abc\nstudent: ", "is not read here"),
    ("student: ", 'x: !!int ""\nstudent: ', "is not read here"),
    ("student: ", 'x: !!float ""\nstudent: ', "is not read here"),
    ("student: ", "<<: {x: 1}\nstudent: ", "is not read here"),
    ("student: ", "x: &y [z]\nstudent: ", "is not read here"),
]
COST_A_ROUND: list[Broken] = [
    ("- exercise: hill-scale\n  title", "- title", "'exercise' is missing"),
    ("  kind: technique\n", "", "'kind' is missing"),
    ("  kind: technique\n", "  kind: juggling\n", "should be one of: technique"),
    ("  tempo_bpm: 72\n", "", "'tempo_bpm' is missing"),
    ("  tempo_bpm: 72\n", "  tempo_bpm: fast\n", "should be a number"),
    ("  tempo_bpm: 72\n", "  tempo_bpm: -72\n", "from 1 to 1000"),
    ("  tempo_bpm: 72\n", "  tempo_bpm: .nan\n", "from 1 to 1000"),
    ("  tempo_bpm: 72\n", "  tempo_bpm: true\n", "should be a number"),
    ("  tempo_bpm: 72\n", "  tempo_bpm: 2026-01-01\n", "should be a number"),
    ("  articulation: slurred\n", "  articulation: sung\n", "should be one of: slurred"),
    ("  seconds: ", "  seconds: 99999", "from 0 to 86400"),
    ("  started: 2026-11-20 17:1", "  started: 2026-11-20 77:1", "is no time"),
    ("- {note: D4,", "- {note: H4,", "is not a note"),
    ("- {note: D4,", "- {", "'note' is missing"),
    ("- {note: D4,", "- {state: dreamt, note: D4,", "should be one of: played"),
    ("measures: {played: 3", "measures: {plaid: 3", "'played' is missing"),
    ("measures: {played: 3", "measures: {played: -3", "from 0"),
    ("rounds:\n", "rounds:\n- just a word\n", "name: value"),
]
COST_A_LINE: list[Broken] = [
    ("a4_hz: 440\n", "a4_hz: high\n", "should be a number"),
    ("a4_hz: 440\n", "a4_hz: 44000\n", "from 380 to 480"),
    ("elapsed_s: 1320\n", "elapsed_s: {}\n", "should be a number"),
    ("ended: 2026", "ended: 20260", "is no time"),
    ("student: Ilse Varn", "student: [Ilse, Varn]", "should be words"),
    ("minutes: 6}", "minutes: six}", "should be a number"),
    ("cents: 10,", "cents: ten,", "should be a number"),
    ("aims: {", "aims: [", "YAML|name: value"),
    ("secure: true", "secure: perhaps", "true or false"),
    ("asked:\n", "asked:\n- 7\n", "name: value"),
    ("  notes:\n", "  breaths_s: [[1, 2, 3]]\n  notes:\n", "pairs of seconds"),
    ("  notes:\n", "  warnings: loud\n  notes:\n", "should be a list"),
    ("  number: 1\n", "  number: 1.5\n", "whole number"),
    ("  tempo_bpm: 72\n", "  tempo_bpm: 72\n  tempo_bpm: 90\n", "is here for the second"),
]
ALL_BROKEN = COST_THE_FILE + COST_A_ROUND + COST_A_LINE


@pytest.fixture
def good_text(a_session: SessionLog) -> str:
    rounds = [replace(round_, secure=True) for round_ in a_session.rounds]
    return session_text(replace(a_session, felt="light", rounds=tuple(rounds)))


@pytest.fixture
def folder(tmp_path: Path, a_session: SessionLog) -> Path:
    """Two good sessions, a day before and a day after the broken one."""
    for days in (-1, 1):
        started = a_session.started + timedelta(days=days)
        last = a_session.rounds[-1:]
        log = replace(a_session, started=started, session_id=f"day {days}", rounds=last)
        (tmp_path / f"{started:%Y-%m-%d}.yaml").write_text(session_text(log))
    return tmp_path


def break_into(folder: Path, good_text: str, broken: Broken) -> Path:
    old, new, _ = broken
    assert old in good_text, "the test no longer breaks anything"
    path = folder / "2026-11-20.yaml"
    path.write_text(good_text.replace(old, new, 1))
    return path


def test_there_are_enough_ways_to_break_a_file() -> None:
    assert len(ALL_BROKEN) >= 40


@pytest.mark.parametrize("broken", ALL_BROKEN, ids=lambda broken: broken[1][:20].strip())
def test_each_broken_file_is_told_and_hides_no_other(
    broken: Broken, folder: Path, good_text: str
) -> None:
    path = break_into(folder, good_text, broken)
    before = path.read_bytes()
    sessions, problems = read_sessions(folder)
    assert {problem.path for problem in problems} == {path}
    assert re.search(broken[2], " ".join(problem.sentence for problem in problems))
    assert {date(2026, 11, 19), date(2026, 11, 21)} <= {log.day for log in sessions}
    assert path.read_bytes() == before


def test_rounds_written_a_second_time_cost_none_of_the_first(
    folder: Path, good_text: str, a_session: SessionLog
) -> None:
    path = folder / "2026-11-20.yaml"
    path.write_text(good_text + "rounds: []\n")
    log, problems = read_session(path)
    assert log is not None
    assert len(log.rounds) == len(a_session.rounds)
    assert [(one.line, one.path) for one in problems] == [(len(good_text.splitlines()) + 1, path)]
    assert "'rounds' is here for the second time" in problems[0].sentence


def test_a_pipe_among_the_sessions_is_told_and_not_waited_for(folder: Path) -> None:
    os.mkfifo(folder / "2026-11-20.yaml")
    sessions, problems = read_sessions(folder)
    assert len(sessions) == 2
    assert "pipe" in problems[0].sentence


@pytest.mark.parametrize("broken", COST_THE_FILE, ids=lambda broken: broken[1][:20].strip())
def test_a_file_without_its_head_is_set_aside(broken: Broken, folder: Path, good_text: str) -> None:
    log, _ = read_session(break_into(folder, good_text, broken))
    assert log is None


@pytest.mark.parametrize("broken", COST_A_ROUND, ids=lambda broken: broken[1][:20].strip())
def test_a_broken_round_costs_only_itself(
    broken: Broken, folder: Path, good_text: str, a_session: SessionLog
) -> None:
    log, problems = read_session(break_into(folder, good_text, broken))
    assert log is not None
    assert len(problems) == 1
    lost = 0 if "just a word" in broken[1] else 1
    assert len(log.rounds) == len(a_session.rounds) - lost


@pytest.mark.parametrize(
    "broken",
    [broken for broken in COST_A_LINE if "aims" not in broken[0]],
    ids=lambda broken: broken[1][:20].strip(),
)
def test_a_broken_line_costs_only_itself(
    broken: Broken, folder: Path, good_text: str, a_session: SessionLog
) -> None:
    log, problems = read_session(break_into(folder, good_text, broken))
    assert log is not None
    assert len(problems) == 1
    assert len(log.rounds) == len(a_session.rounds)


def test_a_problem_names_its_line(folder: Path, good_text: str) -> None:
    path = break_into(folder, good_text, ("  tempo_bpm: 72\n", "  tempo_bpm: fast\n", ""))
    _, (problem,) = read_session(path)
    assert problem.line is not None
    assert path.read_text().splitlines()[problem.line - 1] == "  tempo_bpm: fast"
    assert str(problem).startswith(f"{path}:{problem.line}: ")


def unreadable(folder: Path, how: str) -> Path:
    path = folder / "2026-11-20.yaml"
    contents = {
        "empty": b"",
        "zeros": b"\0" * 4096,
        "not UTF-8": "version: 2\nstudent: Zo\xeb".encode("latin-1"),
        "UTF-16": "version: 2".encode("utf-16"),
        "a picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)),
        "a list": b"- 1\n- 2\n",
        "a word": b"practice\n",
        "a number": b"1",
        "null": b"~",
        "only a comment": b"# nothing\n",
        "other YAML": b"title: Morning\nexercises: []\n",
        "bomb": b"a: &a [x,x]\n"
        + b"".join(b"%c: &%c [*%c,*%c,*%c]\n" % (c + 1, c + 1, c, c, c) for c in range(97, 121)),
    }
    if how == "a folder":
        path.mkdir()
    elif how == "a lost link":
        path.symlink_to(folder / "gone")
    else:
        path.write_bytes(contents[how])
    return path


@pytest.mark.parametrize(
    "how",
    ["empty", "zeros", "not UTF-8", "UTF-16", "a picture", "a list", "a word", "a number", "null",
     "only a comment", "other YAML", "bomb", "a folder", "a lost link"],
)  # fmt: skip
def test_what_is_no_session_is_told(how: str, folder: Path) -> None:
    path = unreadable(folder, how)
    sessions, problems = read_sessions(folder)
    assert len(sessions) == 2
    assert [problem.path for problem in problems] == [path]
    assert len(problems[0].sentence) < 200


def fuzzed(text: str, rng: random.Random) -> bytes:
    """Cut short, bytes changed, a piece lost or doubled: what disks and syncing do."""
    raw = bytearray(text.encode())
    at, length = rng.randrange(len(raw)), rng.randrange(1, 200)
    match rng.randrange(4):
        case 0:
            del raw[at:]
        case 1:
            for place in rng.sample(range(len(raw)), 5):
                raw[place] = rng.randrange(256)
        case 2:
            del raw[at : at + length]
        case _:
            raw[at:at] = raw[rng.randrange(len(raw)) :][:length]
    return bytes(raw)


@pytest.mark.parametrize("seed", range(0, FUZZED, 10))
def test_fuzzed_files_hide_nothing(seed: int, folder: Path, good_text: str) -> None:
    """A change may go unseen (a digit for another); it may not raise nor hide the others."""
    short = good_text[:1500]
    for number in range(seed, seed + 10):
        path = folder / "broken.yaml"
        raw = fuzzed(short, random.Random(number))
        path.write_bytes(raw)
        sessions, problems = read_sessions(folder)
        assert {"day -1", "day 1"} <= {log.session_id for log in sessions}
        assert {problem.path for problem in problems} <= {path}
        assert len(sessions) == 3 or problems
        assert path.read_bytes() == raw


# Days, copies, other files


def at(folder: Path, started: datetime, name: str = "", session_id: str = "") -> None:
    name = name or f"{started:%Y-%m-%d_%H-%M-%S}.yaml"
    (folder / name).write_text(session_text(SessionLog(started, session_id=session_id)))


def test_only_the_asked_days_are_read(tmp_path: Path) -> None:
    for day in range(1, 29):
        at(tmp_path, datetime(2026, 2, day, 23, 59, 59, tzinfo=HERE))
    at(tmp_path, datetime(2026, 2, 9, 7, 0, tzinfo=HERE), "renamed by hand.yaml")
    (tmp_path / "2026-02-01_08-00-00.yaml").write_text("broken: [")
    sessions, problems = read_sessions(tmp_path, date(2026, 2, 9), date(2026, 2, 10))
    assert [log.started.hour for log in sessions] == [7, 23, 23]
    assert problems == (), "a file of another day is not opened"


@pytest.mark.parametrize("name", ["note.txt", ".hidden.yaml", ".2026-11-23-ab.unfinished"])
def test_other_files_are_none_of_our_business(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text("version: [")
    assert read_sessions(tmp_path) == ((), ())


def test_a_folder_that_is_not_there_holds_nothing(tmp_path: Path) -> None:
    assert read_sessions(tmp_path / "none") == ((), ())


def test_a_file_for_a_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "journal").write_text("")
    sessions, problems = read_sessions(tmp_path / "journal")
    assert sessions == ()
    assert len(problems) == 1


def test_a_conflicted_copy_counts_once(tmp_path: Path, a_session: SessionLog) -> None:
    shorter = replace(a_session, rounds=a_session.rounds[:-1], ended=None)
    (tmp_path / "2026-11-20_17-05-12.yaml").write_text(session_text(shorter))
    copy = tmp_path / "2026-11-20_17-05-12 (conflicted copy).yaml"
    copy.write_text(session_text(a_session))
    sessions, problems = read_sessions(tmp_path)
    assert [session_text(log) for log in sessions] == [session_text(a_session)]
    assert [problem.path.name for problem in problems] == ["2026-11-20_17-05-12.yaml"]
    assert "a copy of the session" in problems[0].sentence


def test_a_copy_with_other_rounds_says_so(tmp_path: Path, a_session: SessionLog) -> None:
    other = replace(a_session, rounds=(replace(a_session.rounds[0], felt="odd"),))
    (tmp_path / "a.yaml").write_text(session_text(a_session))
    (tmp_path / "b.yaml").write_text(session_text(other))
    sessions, problems = read_sessions(tmp_path)
    assert [session_text(log) for log in sessions] == [session_text(a_session)]
    assert "other rounds" in problems[0].sentence


def test_unknown_lines_are_passed_over(tmp_path: Path, good_text: str) -> None:
    path = tmp_path / "session.yaml"
    path.write_text(good_text)
    known, _ = read_session(path)
    later = good_text.replace("version: 2\n", "version: 2\nmood: sunny\n")
    path.write_text(later.replace("- {note: D4,", "- {note: D4, lips: dry,", 1))
    assert read_session(path) == (known, ())


def test_the_least_a_session_needs(tmp_path: Path) -> None:
    path = tmp_path / "session.yaml"
    path.write_text("version: 2\nstarted: 2026-11-20T17:05+01:00\n")
    log, problems = read_session(path)
    assert problems == ()
    assert log is not None
    assert (log.day, log.instrument, log.rounds) == (date(2026, 11, 20), "flute", ())


def test_a_time_without_its_offset_keeps_its_day(tmp_path: Path) -> None:
    path = tmp_path / "session.yaml"
    path.write_text("version: 2\nstarted: 2026-11-20 23:59\n")
    log, _ = read_session(path)
    assert log is not None
    assert log.day == date(2026, 11, 20)
