"""`trainer studio` as a teacher meets it: what it prints, writes and sends."""

from __future__ import annotations

import csv
import io
import json
import re
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.studio.conftest import Run
from trainer.app.paths import user_paths
from trainer.app.todays_routine import todays_routine_file
from trainer.journal.from_teacher import (
    latest_note,
    latest_routine,
    notes_from_teacher,
    send_note,
)

SECRET = "dared to say so"
ROUTINE = "title: Only long tones\nexercises:\n  - long tones: still water\n    notes: [B4, A4]\n"


@pytest.fixture
def everything(studio: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in studio.rglob("*") if path.is_file()}


def unchanged(everything: dict[Path, bytes]) -> bool:
    return all(path.read_bytes() == content for path, content in everything.items())


def test_the_overview(run: Run, studio: Path, everything: dict[Path, bytes]) -> None:
    status, out, err = run(studio)
    assert (status, err) == (0, "")
    assert "4 of 5 students practised" in out
    assert "Bertil Okwuosa: Rope ladder, slurred is stuck at 80." in " ".join(out.split())
    status, out, _ = run(studio, "--json")
    assert len(json.loads(out)["students"]) == 5
    assert {path for path in studio.rglob("*") if path.is_file()} == set(everything)
    assert unchanged(everything)


def test_a_students_page(run: Run, studio: Path) -> None:
    status, out, _ = run(studio, "bertil")
    assert status == 0
    assert out.startswith("Bertil Okwuosa, Thursday 19 November to Wednesday 25 November 2026")
    assert "4 of 4 exercises done" in out
    assert out.count("C#6–D6 went wrong") == 1
    assert out.count("C#6–D6 has been open since") == 1
    assert out.count("is stuck at 80") == 1
    assert "Go on" not in out, "nobody is told to go on above what is stuck"
    status, out, _ = run(studio, "bertil", "--json")
    found = json.loads(out)
    assert found["week"]["student"] == "Bertil Okwuosa"
    assert found["studio"]["tempos"][0]["held_bpm"] == 80


def test_the_next_lesson_is_dated_wherever_the_teacher_looks(
    run: Run, studio: Path, tmp_path: Path
) -> None:
    """The seven days end on a Wednesday, and lessons are on Thursdays."""
    page = tmp_path / "bertil.html"
    assert "Next lessons\n  Thursday 26 November: Aslaug Tindevik, Bertil" in run(studio)[1]
    assert run(studio, "bertil", "--page", page)[0] == 0
    lesson = "Lesson on Thursday 26 November: the rope ladder, in one breath."
    for text in (run(studio, "bertil")[1], run(studio, "--day")[1], page.read_text("utf-8")):
        assert lesson in " ".join(text.split())
    _, out, _ = run(studio, "--csv")
    assert {row["lesson"] for row in csv.DictReader(io.StringIO(out))} == {"2026-11-26"}


def test_the_lesson_page_is_the_students(run: Run, studio: Path, tmp_path: Path) -> None:
    page = tmp_path / "bertil.html"
    assert run(studio, "bertil", "--page", page)[0] == 0
    text = page.read_text(encoding="utf-8")
    assert "Bertil Okwuosa" in text
    assert "The top step still sticks." in text
    assert run(studio, "--page", page)[0] == 0
    text = page.read_text(encoding="utf-8")
    assert "Bertil Okwuosa" in text, "without a name: a few lines of each"
    assert "Aslaug Tindevik" in text


def test_private_words_are_nowhere(run: Run, studio: Path, tmp_path: Path) -> None:
    secret_files = [path for path in studio.rglob("*.yaml") if SECRET in path.read_text("utf-8")]
    assert secret_files, "the invented student keeps something to herself"
    page, day = tmp_path / "page.html", tmp_path / "day.html"
    printed = [
        run(studio),
        run(studio, "--json"),
        run(studio, "céline"),
        run(studio, "céline", "--json"),
        run(studio, "--day"),
        run(studio, "--day", "--json"),
        run(studio, "céline", "--page", page),
        run(studio, "--day", day),
    ]
    assert [status for status, _, _ in printed] == [0] * len(printed)
    texts = [out + err for _, out, err in printed]
    texts += [page.read_text("utf-8"), day.read_text("utf-8")]
    assert not any("dared" in text for text in texts)
    indexes = [path for path in (tmp_path / "home").rglob("*") if path.is_file()]
    assert indexes
    assert not any(b"dared" in path.read_bytes() for path in indexes)


class Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        assert not {"src", "href", "onclick", "onload"} & {name for name, _ in attrs}
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def test_the_day_of_lessons(run: Run, studio: Path, tmp_path: Path) -> None:
    (studio / "<b>Bold & Co").mkdir()
    status, out, _ = run(studio, "--day", "--json")
    told = json.loads(out)["lessons"]
    assert [each["studio"]["folder"] for each in told][1:3] == ["Aslaug Tindevik", "Bertil Okwuosa"]
    status, out, _ = run(studio, "--day")
    assert status == 0
    assert out.startswith("Before the lessons: the week to Wednesday 25 November 2026")
    assert "not played: Harbour lights" in out
    assert "last on Tuesday 10 November" in out
    assert max(map(len, out.splitlines())) <= 80
    page = tmp_path / "day.html"
    assert run(studio, "--day", page)[0] == 0
    tags = Tags()
    tags.feed(page.read_text(encoding="utf-8"))
    assert tags.open == []
    assert "script" not in tags.seen
    assert tags.seen.count("section") == 6
    assert "<b>Bold & Co" in tags.text
    assert "not played: Harbour lights" in tags.text


def test_the_lessons_stand_in_the_order_asked_for(run: Run, studio: Path) -> None:
    _, out, _ = run(studio, "eliška", "aslaug", "--day")
    names = re.findall(r"(?m)^(?:Eliška|Aslaug|Bertil).*$", out)
    assert names == ["Eliška Bronec", "Aslaug Tindevik"]


def test_a_note_and_a_routine_go_to_the_student(
    run: Run, studio: Path, tmp_path: Path, everything: dict[Path, bytes]
) -> None:
    routine = tmp_path / "still water.yaml"
    routine.write_text(ROUTINE)
    words = "Leave the ladder.\nBegin with: still water # and listen — tūlīt."
    status, out, _ = run(studio, "aslaug", "--note", words, "--routine", routine)
    assert status == 0
    assert "For Aslaug Tindevik, written in" in out
    home = studio / "Aslaug Tindevik"
    notes, problems = notes_from_teacher(home)
    assert problems == ()
    assert [note.words for note in notes] == [words]
    note = latest_note(notes)
    assert note
    assert note.written.tzinfo
    sent = latest_routine(notes)
    assert sent
    assert sent.read_text() == ROUTINE
    assert unchanged(everything)
    send_note(home, "", datetime(2026, 11, 25, 21, tzinfo=UTC), routine)
    _, out, _ = run(studio, "aslaug")
    assert "Leave the ladder. Begin with: still water" in " ".join(out.split())
    assert "Over the sail loft: 4 of 4 exercises done" in out, "the past is as it was"
    assert "sent since: Only long tones" in out
    _, out, _ = run(studio)
    assert "0 of 1" not in out
    assert "Aslaug Tindevik: Only long tones" in out
    assert "To be seen to" not in out


def test_the_overview_as_a_table_and_by_attention(run: Run, studio: Path) -> None:
    status, out, _ = run(studio, "--csv", "--order", "attention")
    assert status == 0
    rows = list(csv.DictReader(io.StringIO(out)))
    assert rows[0]["student"] == "Dagfinn Morke", "who has not practised"
    assert rows[1]["student"] == "Bertil Okwuosa", "who is stuck"
    for row in rows:
        days = [float(minutes) for day, minutes in row.items() if day.startswith("2026-")]
        assert len(days) == 7
        assert sum(days) == pytest.approx(float(row["minutes"]), abs=0.4)
    assert "stuck at 80" in rows[1]["stuck"]


def test_name_and_words_come_in_either_order(run: Run, studio: Path) -> None:
    for words in (
        ("aslaug", "--note", "Slowly."),
        ("--note", "Slowly.", "aslaug"),
        ("--note", "aslaug", "Slowly."),
    ):
        status, out, err = run(studio, *words)
        assert (status, err) == (0, "")
        assert out.startswith("For Aslaug Tindevik")
        assert "next morning" in out
    notes, _ = notes_from_teacher(studio / "Aslaug Tindevik")
    assert [note.words for note in notes] == ["Slowly."] * 3


def test_the_students_trainer_takes_up_the_routine(run: Run, studio: Path, tmp_path: Path) -> None:
    """The student's journal folder is the one in the studio, as a syncing program keeps it."""
    routine = tmp_path / "still water.yaml"
    routine.write_text(ROUTINE)
    paths = user_paths({"TRAINER_HOME": str(tmp_path / "student")})
    paths.journal.parent.mkdir()
    paths.journal.symlink_to(studio / "Aslaug Tindevik")
    assert todays_routine_file(paths).name == "morning.yaml"
    assert run(studio, "aslaug", "--routine", routine)[0] == 0
    assert todays_routine_file(paths).read_text() == ROUTINE


def test_a_note_to_nobody_or_with_a_broken_routine_is_not_sent(
    run: Run, studio: Path, tmp_path: Path
) -> None:
    routine = tmp_path / "broken.yaml"
    routine.write_text("title: x\nexercises:\n  - dance: polka\n")
    status, _, err = run(studio, "--note", "hello")
    assert status == 1
    assert "name one or more students" in err
    status, _, err = run(studio, "aslaug", "--routine", routine)
    assert status == 1
    assert "line 3" in err
    status, _, err = run(studio, "aslaug", "--note", "  ")
    assert status == 1
    assert "write some words" in err
    assert not (studio / "Aslaug Tindevik" / "from teacher").exists()


def test_a_studio_that_is_none_is_refused_in_a_sentence(run: Run, tmp_path: Path) -> None:
    status, out, err = run(tmp_path / "nowhere")
    assert (status, out) == (1, "")
    assert err.startswith("There is no folder")
