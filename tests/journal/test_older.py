"""Sessions of every form there has been are read; one of a form to come is told and left alone."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from trainer.ear.heard import State
from trainer.errors import JournalError
from trainer.journal.bring_home import bring_home
from trainer.journal.log import SCHEMA_VERSION, RoundLog, SessionLog
from trainer.journal.older import STEPS, in_present_form
from trainer.journal.read import read_session, read_sessions
from trainer.journal.remark import add_remark
from trainer.journal.write import JournalFile
from trainer.music.note import Start

OLDER = Path(__file__).parent / "older"
NEWER = f"""\
version: {SCHEMA_VERSION + 1}
session: 2026-11-23_17-05-12-abc123
begun: {{day: 2026-11-23, hour: 17}}
rounds: {{hill-scale: [72, 76]}}
"""


def test_every_older_form_has_its_step_and_its_file() -> None:
    assert sorted(STEPS) == list(range(SCHEMA_VERSION))
    assert {path.name for path in OLDER.iterdir()} == {f"form_{form}.yaml" for form in STEPS}


def test_form_0_is_read_as_it_was_meant() -> None:
    log, problems = read_session(OLDER / "form_0.yaml")
    assert problems == ()
    assert log is not None
    assert (log.version, log.student, log.a4_hz) == (SCHEMA_VERSION, "Ilse Varn", 441)
    assert log.elapsed_s == 24.5 * 60
    assert log.remark == "Cold room.\nThe low notes would not speak."
    assert [round_.tempo_bpm for round_ in log.rounds] == [66, 69, 60]
    assert [round_.secure for round_ in log.rounds] == [True, False, None]
    first, second, _ = log.rounds
    assert [note.off_ms for note in first.notes] == [12, -4, 9]
    assert first.notes[0].start is Start.TONGUED
    assert second.notes[1].state is State.MISSED


def test_reading_an_older_form_leaves_the_file_alone(tmp_path: Path) -> None:
    file = shutil.copy(OLDER / "form_0.yaml", tmp_path / "2026-03-02.yaml")
    before = Path(file).read_bytes()
    assert len(read_sessions(tmp_path)[0]) == 1
    assert Path(file).read_bytes() == before


def test_a_fault_in_an_older_form_is_told_by_its_line(tmp_path: Path) -> None:
    file = tmp_path / "2026-03-02.yaml"
    text = (OLDER / "form_0.yaml").read_text()
    file.write_text(text.replace("seconds: 21.5", "seconds: soon"))
    log, (problem,) = read_session(file)
    assert log is not None
    assert len(log.rounds) == 2
    assert file.read_text().splitlines()[(problem.line or 0) - 1] == "  seconds: soon"


@pytest.mark.parametrize(
    "plain",
    [
        {"version": 0},
        {"version": 0, "rounds": "none", "minutes": "few"},
        {"version": 0, "rounds": [None, {"notes": 3, "topic": ["x"]}]},
        {"version": False},
        {"version": "0"},
    ],
)
def test_a_broken_older_form_breaks_nothing(plain: dict[object, object]) -> None:
    assert in_present_form(plain)["version"] in (SCHEMA_VERSION, "0", False)


def test_a_remark_fits_an_older_form(tmp_path: Path) -> None:
    file = tmp_path / "2026-03-02.yaml"
    shutil.copy(OLDER / "form_0.yaml", file)
    add_remark(file, "Found in the attic.", datetime(2026, 11, 1, tzinfo=UTC))
    log, problems = read_session(file)
    assert problems == ()
    assert log is not None
    assert [later.remark for later in log.remarks] == ["Found in the attic."]
    assert file.read_text().startswith((OLDER / "form_0.yaml").read_text())


def test_a_newer_form_is_told_and_set_aside(tmp_path: Path) -> None:
    file = tmp_path / "2026-11-23_17-05-12.yaml"
    file.write_text(NEWER)
    shutil.copy(OLDER / "form_0.yaml", tmp_path / "2026-03-02.yaml")
    sessions, (problem,) = read_sessions(tmp_path)
    assert len(sessions) == 1, "the others are read"
    assert problem.path == file
    assert "newer trainer" in problem.sentence
    assert "update the trainer" in problem.sentence


def test_nothing_overwrites_a_newer_form(tmp_path: Path, a_session: SessionLog) -> None:
    home, spare = tmp_path / "home", tmp_path / "spare"
    file = home / "2026-11-23_17-05-12.yaml"
    home.mkdir()
    file.write_text(NEWER)
    with pytest.raises(JournalError, match="newer trainer"):
        add_remark(file, "Hm.", datetime(2026, 11, 24, tzinfo=UTC))
    started = datetime(2026, 11, 23, 17, 5, 12, tzinfo=UTC)
    log = SessionLog(started, session_id="2026-11-23_17-05-12-abc123")
    a_round: RoundLog = a_session.rounds[0]
    JournalFile.begin(home, log).add_round(a_round)
    JournalFile.begin(spare, log).add_round(a_round)
    bring_home(spare, home)
    assert file.read_text() == NEWER
