"""A remark added later: atomic, nothing else of the file changes, private ones stay at home."""

from __future__ import annotations

import errno
import os
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import yaml

from trainer.errors import JournalError
from trainer.journal.encode import session_text
from trainer.journal.log import LaterRemark, SessionLog
from trainer.journal.read import read_session
from trainer.journal.remark import add_remark

NOW = datetime(2026, 11, 24, 8, 10, tzinfo=ZoneInfo("Europe/Zurich"))
WORDS = ["Played it to the cat.", "two\nlines: and more", "- [odd] {signs}, 'and' \"quotes\" #1",
         "ünïcödé 🎶", "null", "2026-11-24", "x" * 500]  # fmt: skip


@pytest.fixture
def file(tmp_path: Path, a_session: SessionLog) -> Path:
    path = tmp_path / "2026-11-20_17-05-12.yaml"
    path.write_text(session_text(a_session), encoding="utf-8")
    return path


@pytest.mark.parametrize("words", WORDS)
def test_it_stands_in_the_file_and_nothing_else_changed(words: str, file: Path) -> None:
    before, old = file.read_bytes(), yaml.safe_load(file.read_text(encoding="utf-8"))
    add_remark(file, words, NOW)
    add_remark(file, "and one more", NOW, private=True)
    assert file.read_bytes().startswith(before)
    new = yaml.safe_load(file.read_text(encoding="utf-8"))
    assert [(each["remark"], each.get("private", False)) for each in new.pop("remarks")] == [
        (words, False),
        ("and one more", True),
    ]
    assert new == old
    assert [path.name for path in file.parent.iterdir()] == [file.name]


def test_the_session_comes_back_with_it(file: Path) -> None:
    returned = add_remark(file, "  Better on the bank.  ", NOW, private=True)
    log, problems = read_session(file)
    assert problems == ()
    assert log == returned
    assert log.remarks == (LaterRemark("Better on the bank.", NOW, True),)


def by_hand(text: str, how: str) -> bytes:
    """The file as other hands and programs leave it."""
    changes = {
        "no last line end": text.rstrip("\n"),
        "Windows line ends": text.replace("\n", "\r\n"),
        "byte order mark": "\ufeff" + text,
        "a comment at the end": text + "# do more of this\n",
        "a list in the middle": text.replace(
            "asked:", "remarks:\n- remark: by hand\n  at: 2026-11-21 10:00:00+01:00\nasked:", 1
        ),
        "an indented list": text.replace(
            "asked:", "remarks:\n  - {remark: ö by hand} # mine\n\nasked:", 1
        ),
        "odd line breaks": text.replace(
            "remark: |-", "remark: \"a\u2028b\"\nother: |-", 1
        ),
    }  # fmt: skip
    return changes[how].encode()


@pytest.mark.parametrize(
    "how",
    ["no last line end", "Windows line ends", "byte order mark", "a comment at the end",
     "a list in the middle", "an indented list", "odd line breaks"],
)  # fmt: skip
def test_hand_made_files_keep_every_byte(how: str, file: Path) -> None:
    old = by_hand(file.read_text(encoding="utf-8"), how)
    file.write_bytes(old)
    before, _ = read_session(file)
    log = add_remark(file, "later", NOW)
    assert before is not None
    assert log == replace(before, remarks=(*before.remarks, LaterRemark("later", NOW)))
    new = file.read_bytes()
    place = next((at for at, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), len(old))
    assert new[:place] + new[len(new) - len(old) + place :] == old


def test_a_list_without_a_place_is_told(file: Path) -> None:
    flow = file.read_text(encoding="utf-8").replace("asked:", "remarks: []\nasked:", 1)
    file.write_text(flow, encoding="utf-8")
    with pytest.raises(JournalError, match="Open it in an editor"):
        add_remark(file, "later", NOW)
    assert file.read_text(encoding="utf-8") == flow


def test_a_wrong_line_elsewhere_stays_as_it_is(file: Path) -> None:
    text = file.read_text(encoding="utf-8").replace("  tempo_bpm: 72\n", "  tempo_bpm: fast\n", 1)
    file.write_text(text, encoding="utf-8")
    add_remark(file, "later", NOW)
    assert file.read_text(encoding="utf-8").startswith(text)


def test_a_session_under_way_is_left_alone(file: Path, a_session: SessionLog) -> None:
    file.write_text(session_text(replace(a_session, ended=None)), encoding="utf-8")
    before = file.read_bytes()
    with pytest.raises(JournalError, match="no end yet"):
        add_remark(file, "later", a_session.started + timedelta(hours=1))
    assert file.read_bytes() == before
    add_remark(file, "it was cut off", a_session.started + timedelta(hours=13))


@pytest.mark.parametrize("words", ["", "  \n "])
def test_no_words_no_remark(words: str, file: Path) -> None:
    with pytest.raises(JournalError, match="no words"):
        add_remark(file, words, NOW)


def test_a_missing_and_a_broken_file_are_told(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="can't be read"):
        add_remark(tmp_path / "none.yaml", "later", NOW)
    broken = tmp_path / "broken.yaml"
    broken.write_text("rounds: [")
    with pytest.raises(JournalError, match="not added"):
        add_remark(broken, "later", NOW)
    assert broken.read_text() == "rounds: ["


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_full_disk_leaves_the_file_as_it_was(
    call: str, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    before = file.read_bytes()
    monkeypatch.setattr(os, call, full)
    with pytest.raises(JournalError, match="can't be written"):
        add_remark(file, "later", NOW)
    assert file.read_bytes() == before
    assert [path.name for path in file.parent.iterdir()] == [file.name]


def test_the_permissions_and_a_link_stay(file: Path, tmp_path: Path) -> None:
    file.chmod(0o640)
    link = tmp_path / "link.yaml"
    link.symlink_to(file)
    add_remark(link, "later", NOW)
    assert link.is_symlink()
    assert file.stat().st_mode & 0o777 == 0o640
    assert "later" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize("value", ["ture", "1", "[]", "'yes, please'"])
def test_a_misspelt_private_hides_rather_than_shows(value: str, file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    file.write_text(f"private: {value}\n{text}", encoding="utf-8")
    log, problems = read_session(file)
    assert log is not None
    assert log.private
    assert len(problems) == 1
