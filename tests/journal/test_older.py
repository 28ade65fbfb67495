"""Sessions of every form there has been are read; one of a form to come is told and left alone."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path
from statistics import pstdev

import pytest
import yaml

from trainer.ear.heard import State
from trainer.errors import JournalError
from trainer.figures.round_measures import OlderMeasures
from trainer.journal.bring_home import bring_home
from trainer.journal.log import SCHEMA_VERSION, RoundLog, SessionLog
from trainer.journal.older import STEPS, in_present_form
from trainer.journal.outline import outline
from trainer.journal.read import read_session, read_sessions
from trainer.journal.remark import add_remark
from trainer.journal.sessions_text import session_text_page
from trainer.journal.skim import skim_session
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


def test_form_1_is_counted_anew_from_its_notes() -> None:
    """The first round was played with a tempo that grew by an eighth, and kept by that trainer
    with an evenness of 28.6 ms, while it told the student 4 ms. The second moment of its notes'
    places is the figure of today: Python's `statistics.pstdev`, here from the text alone."""
    file = OLDER / "form_1.yaml"
    log, problems = read_session(file)
    assert problems == ()
    assert log is not None
    rushed, knot, _ = log.rounds
    plain = yaml.safe_load(file.read_text())["rounds"][0]
    off_ms = [note["off_ms"] for note in plain["notes"] if "off_ms" in note]
    assert rushed.measures is not None
    assert plain["measures"]["evenness_ms"] == 28.6
    assert rushed.measures.evenness_ms == pytest.approx(pstdev(off_ms), abs=0.05)
    assert rushed.measures.evenness_ms == pytest.approx(4.0, abs=0.1)
    assert [note.off_ms for note in rushed.notes if note.off_ms is not None] == off_ms
    assert knot.measures is not None
    assert knot.measures.evenness_ms is None, "too few notes for a figure of today"
    assert knot.measures.cents_median == 3.5, "62 cents off is sharp, 70 is another note"
    assert (rushed.measures.lead_ms, rushed.measures.tempo_bpm) == (-92.2, 88.5)


def test_where_form_1_kept_no_notes_its_figures_stand_apart() -> None:
    log, _ = read_session(OLDER / "form_1.yaml")
    assert log is not None
    measures = log.rounds[2].measures
    assert measures is not None
    assert (measures.evenness_ms, measures.cents_median) == (None, None)
    assert measures.older == OlderMeasures(evenness_ms=18, cents_median=2.5)
    text = session_text_page(log)
    assert "as an older trainer counted: +2 cents overall, evenness 18 ms" in " ".join(text.split())


def test_form_1_had_a_knots_notes_in_its_title() -> None:
    log, _ = read_session(OLDER / "form_1.yaml")
    assert log is not None
    assert [round_.knot for round_ in log.rounds] == [(), ("C#5", "D5"), ()]


def test_a_title_that_names_no_notes_gives_no_knot() -> None:
    plain = in_present_form(
        {"version": 1, "rounds": [{"kind": "knot", "title": "The turn, slowly"}, {"kind": "knot"}]}
    )
    assert plain["rounds"] == [{"kind": "knot", "title": "The turn, slowly"}, {"kind": "knot"}]


def test_the_index_counts_an_older_form_as_the_reader_does() -> None:
    for file in OLDER.iterdir():
        read, _ = read_session(file)
        skimmed, _ = skim_session(file)
        assert read is not None
        assert skimmed is not None
        assert outline(skimmed) == outline(read)


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
        {"version": 1, "rounds": [{"measures": 3, "notes": 4, "kind": "knot", "title": 5}]},
        {
            "version": 1,
            "rounds": [{"measures": {"evenness_ms": "x"}, "notes": [7]}],
        },
        {"version": 1, "rounds": [{"measures": {}, "notes": [{"off_ms": float("nan")}] * 9}]},
        {"version": 1, "rounds": [{"measures": {}, "notes": [{"cents": "y"}]}]},
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
