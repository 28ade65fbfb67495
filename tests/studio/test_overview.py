"""What a studio's folder can hold, and what the overview makes of it."""

from __future__ import annotations

import os
import random
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from trainer.errors import StudioError
from trainer.journal.encode import session_text
from trainer.journal.read import read_sessions
from trainer.studio import overview as overview_module
from trainer.studio.folders import named, student_folders
from trainer.studio.overview import Overview, StudentWeek, overview, recent_sessions
from trainer.studio.overview_text import overview_text

ENDING = date(2026, 11, 25)


def of(found: Overview, folder: str) -> StudentWeek:
    (student,) = [each for each in found.students if each.folder == folder]
    return student


def test_students_stand_in_alphabetical_order_whatever_they_did(studio: Path, state: Path) -> None:
    (studio / "Åse Fjeld").mkdir()
    (studio / "zoë").mkdir()
    names = [each.folder for each in overview(studio, state, ENDING).students]
    assert names == ["Åse Fjeld", "Aslaug Tindevik", "Bertil Okwuosa", "Céline Duroy-Aas",
                     "Dagfinn Morke", "Eliška Bronec", "zoë"]  # fmt: skip


def test_the_stories_are_seen(studio: Path, state: Path) -> None:
    found = overview(studio, state, ENDING)
    assert {each.folder for each in found.students if each.knots} == {"Bertil Okwuosa"}
    assert {each.folder for each in found.students if each.tempos} == {"Bertil Okwuosa"}
    assert of(found, "Bertil Okwuosa").tempos[0].held_bpm == 80
    assert not of(found, "Dagfinn Morke").practised
    left = [each.title for each in of(found, "Céline Duroy-Aas").done if not each.days_done]
    assert left == ["Harbour lights"]
    text = overview_text(found)
    assert "4 of 5 students practised" in text
    assert max(map(len, text.splitlines())) <= 80


def test_nothing_ranks_students(studio: Path, state: Path) -> None:
    text = overview_text(overview(studio, state, ENDING)).lower()
    assert not re.search(r"\b(best|worst|first place|rank|most|least|better|behind|top)\b", text)


def test_it_answers_the_same_from_the_index(studio: Path, state: Path) -> None:
    first = overview(studio, state, ENDING)
    assert overview(studio, state, ENDING) == first
    assert overview(studio, state / "another", ENDING) == first


def test_a_changed_file_is_noticed(studio: Path, state: Path) -> None:
    before = of(overview(studio, state, ENDING), "Aslaug Tindevik")
    file = sorted((studio / "Aslaug Tindevik").glob("*.yaml"))[-1]
    (log,), _ = read_sessions(file.parent, ENDING, ENDING)
    assert log.elapsed_s
    file.write_text(session_text(replace(log, elapsed_s=log.elapsed_s + 600)))
    after = of(overview(studio, state, ENDING), "Aslaug Tindevik")
    assert after.minutes == pytest.approx(before.minutes + 10)
    file.unlink()
    assert of(overview(studio, state, ENDING), "Aslaug Tindevik").minutes < before.minutes


def meddle(studio: Path, lucky: random.Random) -> None:
    """One thing that syncing, a student or a teacher may do to a file of the last weeks."""
    home = lucky.choice(sorted(path for path in studio.iterdir() if path.is_dir()))
    files = sorted(home.glob("*.yaml"))
    file = lucky.choice(files[-20:])
    text = file.read_bytes()
    match lucky.randrange(7):
        case 0:
            file.unlink()
        case 1:
            file.write_bytes(text.replace(b"secure: true", b"secure: false", 3))
        case 2:
            file.write_bytes(text[: lucky.randrange(len(text))])
        case 3:
            shutil.copy(file, file.with_name(f"{file.stem} (conflicted copy).yaml"))
        case 4:
            file.rename(file.with_name(f"renamed {lucky.randrange(99)}.yaml"))
        case 5:
            file.write_bytes(lucky.choice(files).read_bytes())
        case 6:
            file.write_bytes(text.replace(b"kind: technique", b"kind: knot", 2))
    for other in home.glob("*.yaml"):
        if lucky.random() < 0.1:
            os.utime(other, (0, lucky.randrange(2_000_000_000)))


@pytest.mark.slow
def test_whatever_happens_the_index_says_what_the_files_say(studio: Path, state: Path) -> None:
    lucky = random.Random(20)
    for turn in range(6):
        for _ in range(4):
            meddle(studio, lucky)
        expected = overview(studio, state.with_name(f"new {turn}"), ENDING)
        assert overview(studio, state, ENDING) == expected


def only_session(home: Path, days_ago: int) -> None:
    """Leave one of a student's sessions, on another day."""
    log = read_sessions(home, ENDING - timedelta(days=7), ENDING)[0][-1]
    for file in home.glob("*.yaml"):
        file.unlink()
    started = log.started - timedelta(days=(log.day - ENDING).days + days_ago)
    text = session_text(replace(log, started=started, ended=None))
    (home / f"{started:%Y-%m-%d_%H-%M-%S}.yaml").write_text(text)


@pytest.mark.parametrize(("days_ago", "counts"), [(0, True), (6, True), (7, False)])
def test_the_week_is_the_last_day_and_the_six_before(
    studio: Path, state: Path, days_ago: int, counts: bool
) -> None:
    only_session(studio / "Aslaug Tindevik", days_ago)
    student = of(overview(studio, state, ENDING), "Aslaug Tindevik")
    assert (student.days_practised == 1) == counts
    assert (student.minutes > 0) == counts
    assert (student.exercises_done > 0) == counts
    assert (sum(each.played_minutes for each in student.done) > 0) == counts


@pytest.mark.parametrize(("days_ago", "found"), [(41, True), (42, False)])
def test_six_weeks_are_42_days(studio: Path, state: Path, days_ago: int, found: bool) -> None:
    only_session(studio / "Aslaug Tindevik", days_ago)
    folder = named(student_folders(studio)[0], "Aslaug")
    assert bool(recent_sessions(folder, state, ENDING)[0]) == found


def test_another_week_can_be_looked_at(studio: Path, state: Path) -> None:
    earlier = ENDING - timedelta(weeks=3)
    found = overview(studio, state, earlier)
    dagfinn = of(found, "Dagfinn Morke")
    assert dagfinn.practised
    assert dagfinn.last_day
    assert dagfinn.last_day <= earlier


def test_only_recent_files_are_opened(
    studio: Path, state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[str] = []
    skim = overview_module.skim_session

    def noted(path: Path) -> object:
        opened.append(path.name)
        return skim(path)

    monkeypatch.setattr(overview_module, "skim_session", noted)
    overview(studio, state, ENDING)
    assert opened
    assert min(opened) >= str(ENDING - timedelta(days=42))
    opened.clear()
    overview(studio, state, ENDING)
    assert opened == []


def messy(studio: Path) -> Iterator[str]:
    """Lay things about as they come by mail and syncing; what should be said of each."""
    (studio / "Anna.zip").write_bytes(b"PK")
    yield "Anna.zip is packed; unpack it into a folder of the student's name."
    (studio / "2026-11-24_16-00-00.yaml").write_text("version: 1\n")
    yield "2026-11-24_16-00-00.yaml lies outside every student's folder"
    (studio / "lessons.txt").write_text("Mondays")
    yield "lessons.txt is no student's folder and was left alone."
    (studio / "Empty Chair").mkdir()
    yield "Empty Chair"
    home = studio / "Aslaug Tindevik"
    (home / "2026-11-23_09-00-00.yaml").write_bytes(b"\xff\xfe not yaml")
    yield "2026-11-23_09-00-00.yaml, line 1: this is not UTF-8 text"
    (home / "2026-11-22_09-00-00.yaml").write_text("rounds: {")
    yield "2026-11-22_09-00-00.yaml, line"
    last = sorted(home.glob("*.yaml"))[-1]
    shutil.copy(last, home / f"{last.stem} (conflicted copy).yaml")
    yield f"a copy of the session in {last.name}"
    for junk in (".DS_Store", "Thumbs.db", "desktop.ini", "~$notes.docx", ".sync_123"):
        (studio / junk).write_text("")
        (home / junk).write_text("")


def test_what_lies_about_is_told_and_hides_nothing(studio: Path, state: Path) -> None:
    before = overview(studio, state, ENDING)
    said = list(messy(studio))
    after = overview(studio, state, ENDING)
    text = " ".join(overview_text(after).split())
    for sentence in said:
        assert sentence in text
    assert "Thumbs" not in text
    for student in before.students:
        assert replace(of(after, student.folder), problems=()) == student


def test_a_student_filed_twice_is_told(studio: Path, state: Path) -> None:
    shutil.copytree(studio / "Eliška Bronec", studio / "Eliška (1)")
    notices = overview(studio, state, ENDING).notices
    assert len(notices) == 1
    assert "'Eliška (1)' and 'Eliška Bronec' hold the same sessions" in notices[0]


def test_a_student_with_two_journals_is_told(studio: Path, state: Path) -> None:
    other = studio / "Eliška at school"
    other.mkdir()
    files = sorted((studio / "Eliška Bronec").glob("*.yaml"))
    for file in files[::2]:
        file.rename(other / file.name)
    (notice,) = overview(studio, state, ENDING).notices
    assert notice.startswith("'Eliška at school' and 'Eliška Bronec' name the same student")


def test_a_copied_home_of_the_trainer_is_a_student(studio: Path, state: Path) -> None:
    """`TRAINER_HOME` copied whole: the journal is a folder inside."""
    before = of(overview(studio, state, ENDING), "Eliška Bronec")
    home = studio / "Eliška Bronec"
    (home / "journal").mkdir()
    for file in home.glob("*.yaml"):
        file.rename(home / "journal" / file.name)
    (home / "config.yaml").write_text("a4_hz: 442\n")
    assert of(overview(studio, state, ENDING), "Eliška Bronec") == before


def test_a_folder_unpacked_inside_a_folder_is_the_student(studio: Path, state: Path) -> None:
    before = of(overview(studio, state, ENDING), "Eliška Bronec")
    (studio / "Eliška Bronec").rename(studio / "packed")
    (studio / "Eliška Bronec").mkdir()
    (studio / "packed").rename(studio / "Eliška Bronec" / "Eliška Bronec")
    after = of(overview(studio, state, ENDING), "Eliška Bronec")
    assert replace(after, assigned=None, done=()) == replace(before, assigned=None, done=())
    assert [each.exercise_id for each in after.done] == [each.exercise_id for each in before.done]


def test_a_folder_that_may_not_be_opened_hides_no_other(studio: Path, state: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("root may open every folder")
    (studio / "Dagfinn Morke").chmod(0)
    try:
        found = overview(studio, state, ENDING)
    finally:
        (studio / "Dagfinn Morke").chmod(0o700)
    assert "can't be read" in of(found, "Dagfinn Morke").problems[0]
    assert of(found, "Aslaug Tindevik").practised


def test_an_empty_studio_says_what_to_do(tmp_path: Path, state: Path) -> None:
    text = overview_text(overview(tmp_path, state, ENDING))
    assert "There is no student's folder here" in text


def test_one_students_journal_is_no_studio(studio: Path, state: Path) -> None:
    found = overview(studio / "Dagfinn Morke", state, ENDING)
    assert "If this is one student's journal, name the folder above it." in found.notices[0]


@pytest.mark.parametrize(("name", "words"), [
    ("nowhere", "There is no folder"), ("a file", "is a file. Name the folder"),
])  # fmt: skip
def test_what_is_no_studio_is_refused(tmp_path: Path, state: Path, name: str, words: str) -> None:
    (tmp_path / "a file").write_text("")
    with pytest.raises(StudioError, match=words):
        overview(tmp_path / name, state, ENDING)


def test_students_are_found_by_the_beginning_of_their_name(studio: Path) -> None:
    students, _ = student_folders(studio)
    assert named(students, "eli").name == "Eliška Bronec"
    assert named(students, "Ce\u0301line").name == "Céline Duroy-Aas"
    (studio / "Eli").mkdir()
    (studio / "Elin").mkdir()
    students, _ = student_folders(studio)
    assert named(students, "Eli").name == "Eli"
    (studio / "Eli").rmdir()
    with pytest.raises(StudioError, match="'Elin', 'Eliška Bronec'"):
        named(student_folders(studio)[0], "eli")
    with pytest.raises(StudioError, match="no student 'Zora'"):
        named(students, "Zora")


@pytest.mark.parametrize(
    "routine", ["title: [", "title: x\nexercises:\n  - dance: polka\n", "\0", ""]
)
def test_a_broken_routine_is_told_and_the_sessions_are_asked(
    studio: Path, state: Path, routine: str
) -> None:
    home = studio / "Aslaug Tindevik"
    (home / "routines" / "over_the_sail_loft.yaml").write_text(routine)
    student = of(overview(studio, state, ENDING), "Aslaug Tindevik")
    assert student.assigned
    assert student.assigned.file == ""
    assert [each.title for each in student.done][:2] == ["Harbour lights", "Scale of the day"]
    assert any(problem.startswith("over_the_sail_loft.yaml") for problem in student.problems)


def test_a_routine_among_the_sessions_is_no_broken_session(studio: Path, state: Path) -> None:
    home = studio / "Aslaug Tindevik"
    (home / "routines" / "over_the_sail_loft.yaml").rename(home / "over_the_sail_loft.yaml")
    student = of(overview(studio, state, ENDING), "Aslaug Tindevik")
    assert student.problems == ()
    assert student.assigned
    assert student.assigned.file == "over_the_sail_loft.yaml"
