"""A teacher's message reaches the student whole, and a broken one hides no other."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import JournalError
from trainer.journal.from_teacher import (
    TeacherNote,
    latest_note,
    latest_routine,
    notes_from_teacher,
    send_note,
)
from trainer.journal.read import read_sessions

AT = datetime.fromisoformat("2026-11-25T18:05:12.345+01:00")


@pytest.fixture
def routine(tmp_path: Path) -> Path:
    file = tmp_path / "desk" / "ladder.yaml"
    file.parent.mkdir()
    file.write_text("title: Ladder\n")
    return file


def test_a_message_there_and_back(tmp_path: Path, routine: Path) -> None:
    folder = tmp_path / "journal"
    file = send_note(folder, "Begin slowly.\nThen listen: #3", AT, routine)
    plain = yaml.safe_load(file.read_text(encoding="utf-8"))
    assert plain["version"] == 1
    assert plain["note"] == "Begin slowly.\nThen listen: #3"
    assert plain["routine"] == "ladder.yaml"
    (note,), problems = notes_from_teacher(folder)
    assert problems == ()
    assert note == TeacherNote(AT.replace(microsecond=0), plain["note"], note.routine_file)
    assert note.routine_file
    assert note.routine_file.read_bytes() == routine.read_bytes()
    assert read_sessions(folder) == ((), ()), "no message is taken for a session"


@given(st.text(st.characters(codec="utf-8"), min_size=1).filter(lambda text: text.strip()))
def test_any_words_come_back(tmp_path_factory: pytest.TempPathFactory, words: str) -> None:
    folder = tmp_path_factory.mktemp("journal")
    send_note(folder, words, AT)
    (note,), problems = notes_from_teacher(folder)
    assert problems == ()
    assert note.words == "\n".join(words.strip().splitlines()).strip()


def test_no_message_overwrites_another(tmp_path: Path, routine: Path) -> None:
    send_note(tmp_path, "one", AT)
    send_note(tmp_path, "two", AT)
    send_note(tmp_path, "", AT, routine)
    routine.write_text("title: Ladder, longer\n")
    send_note(tmp_path, "", AT + timedelta(days=1), routine)
    routine.write_text("title: Ladder\n")
    send_note(tmp_path, "", AT + timedelta(days=2), routine)
    notes, _ = notes_from_teacher(tmp_path)
    assert sorted(note.words for note in notes) == ["", "", "", "one", "two"]
    laid = {path.name: path.read_text() for path in (tmp_path / "from teacher/routines").iterdir()}
    assert laid == {"ladder.yaml": "title: Ladder\n", "ladder-2.yaml": "title: Ladder, longer\n"}
    assert latest_routine(notes) == tmp_path / "from teacher/routines/ladder.yaml"


def test_the_newest_words_stand_and_the_newest_routine(tmp_path: Path, routine: Path) -> None:
    send_note(tmp_path, "early", AT - timedelta(days=7), routine)
    send_note(tmp_path, "late", AT)
    notes, _ = notes_from_teacher(tmp_path)
    newest = latest_note(notes)
    assert newest
    assert newest.words == "late"
    assert latest_routine(notes)
    (tmp_path / "from teacher/routines/ladder.yaml").unlink()
    assert latest_routine(notes) is None, "a routine that did not come along with the syncing"


def test_nothing_from_a_teacher_is_nothing(tmp_path: Path) -> None:
    assert notes_from_teacher(tmp_path / "nowhere") == ((), ())
    assert latest_note(()) is None


BROKEN = {
    "no words": "",
    "a list": "- a\n",
    "no yaml": "note: [",
    "no version": "written: 2026-11-25\nnote: x\n",
    "version of words": "version: new\nwritten: 2026-11-25\n",
    "newer": "version: 2\nwritten: 2026-11-25\nnote: x\n",
    "no time": "version: 1\nnote: x\n",
    "wrong time": "version: 1\nwritten: yesterday\nnote: x\n",
    "words in a list": "version: 1\nwritten: 2026-11-25\nnote: [x]\n",
    "way out": "version: 1\nwritten: 2026-11-25\nroutine: ../../secret.yaml\n",
    "hidden": "version: 1\nwritten: 2026-11-25\nroutine: .secret.yaml\n",
    "deep": "version: 1\nnote: " + "[" * 2000 + "]" * 2000,
    "large": "version: 1\nwritten: 2026-11-25\nnote: " + "x" * 300_000,
    "a tag": "version: 1\nwritten: 2026-11-25\nnote: !!bool abc\n",
    "a number that is none": 'version: !!int ""\nwritten: 2026-11-25\nnote: x\n',
    "aliases": "version: 1\nwritten: 2026-11-25\na: &a [x]\nnote: *a\n",
    "the first day": "version: 1\nwritten: 0001-01-01 00:30:00+10:00\nnote: x\n",
    "the first day, bare": "version: 1\nwritten: 0001-01-01\nnote: x\n",
    "the last day": "version: 1\nwritten: 9999-12-31 23:30:00-10:00\nnote: x\n",
    "no text": b"\xff\xfe\x00",
}


@pytest.mark.parametrize("how", BROKEN)
def test_a_broken_message_is_told_and_hides_no_other(tmp_path: Path, how: str) -> None:
    send_note(tmp_path, "whole", AT)
    broken = tmp_path / "from teacher" / "broken.yaml"
    content = BROKEN[how]
    broken.write_bytes(content if isinstance(content, bytes) else content.encode())
    notes, problems = notes_from_teacher(tmp_path)
    assert [note.words for note in notes] == ["whole"]
    assert [problem.path for problem in problems] == [broken]
    assert len(problems[0].sentence) < 300


def test_a_pipe_is_told_and_not_waited_for_and_lines_that_stand_twice_are_told(
    tmp_path: Path,
) -> None:
    send_note(tmp_path, "whole", AT)
    os.mkfifo(tmp_path / "from teacher" / "a pipe.yaml")
    twice = "version: 1\nwritten: 2026-11-25\nnote: one\nnote: two\n"
    (tmp_path / "from teacher" / "twice.yaml").write_text(twice)
    notes, problems = notes_from_teacher(tmp_path)
    assert [note.words for note in notes] == ["one", "whole"]
    assert [(problem.path.name, problem.line) for problem in problems] == [
        ("a pipe.yaml", None),
        ("twice.yaml", 4),
    ]


def test_a_message_typed_by_hand(tmp_path: Path) -> None:
    (tmp_path / "from teacher").mkdir()
    (tmp_path / "from teacher" / "note.yml").write_text(
        "version: 1\nwritten: 2026-11-25 18:00\nnote: 12\nmood: glad\n"
    )
    (note,), problems = notes_from_teacher(tmp_path)
    assert problems == ()
    assert note == TeacherNote(datetime(2026, 11, 25, 18, tzinfo=UTC), "12")


def test_a_folder_that_refuses_is_told(tmp_path: Path, routine: Path) -> None:
    (tmp_path / "from teacher").write_text("a file stands in the way")
    with pytest.raises(JournalError, match="Nothing was sent"):
        send_note(tmp_path, "x", AT)
    with pytest.raises(JournalError, match="can't be read"):
        send_note(tmp_path / "other", "x", AT, routine.with_name("none.yaml"))
    with pytest.raises(JournalError, match="write some words"):
        send_note(tmp_path / "other", " \n", AT)
    assert not (tmp_path / "other").exists()


def test_nothing_unfinished_is_left(tmp_path: Path, routine: Path) -> None:
    send_note(tmp_path, "x", AT, routine)
    left = [name for _, _, names in os.walk(tmp_path / "from teacher") for name in names]
    assert sorted(left) == ["2026-11-25_18-05-12.yaml", "ladder.yaml"]


def test_a_link_in_the_students_folder_is_neither_read_nor_written_through(
    tmp_path: Path, routine: Path
) -> None:
    """It came from another's computer, and may lead anywhere on this one."""
    elsewhere, folder = tmp_path / "elsewhere", tmp_path / "journal"
    private = send_note(elsewhere, "Of another student.", AT, routine)
    inbox = folder / "from teacher"
    (inbox / "routines").mkdir(parents=True)
    (inbox / "a.yaml").symlink_to(private)
    notes, (problem,) = notes_from_teacher(folder)
    assert notes == ()
    assert "link" in problem.sentence

    linked = inbox / "routines" / "ladder.yaml"
    linked.symlink_to(private.parent / "routines" / "ladder.yaml")
    (inbox / "b.yaml").write_text(f"version: 1\nwritten: {AT}\nroutine: ladder.yaml\n")
    assert latest_routine(notes_from_teacher(folder)[0]) is None
    send_note(folder, "", AT, routine)
    assert not (inbox / "routines" / "ladder-2.yaml").is_symlink()

    before = sorted(elsewhere.rglob("*"))
    for number, link in enumerate(("from teacher", "from teacher/routines")):
        other = tmp_path / f"journal {number}"
        (other / link).parent.mkdir(parents=True)
        (other / link).symlink_to(private.parent, target_is_directory=True)
        with pytest.raises(JournalError, match="is a link"):
            send_note(other, "Slowly.", AT, routine)
    assert sorted(elsewhere.rglob("*")) == before
