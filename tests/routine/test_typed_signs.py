"""What word processors make of a routine: their signs are taken, their files are named."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from tests.bench.broken_files import drawn, judged
from trainer.routine.load import load_routine, read_routine
from trainer.routine.other_files import kind_of_file

GOOD = (Path(__file__).parent / "data" / "good.yaml").read_text(encoding="utf-8")
NO_BREAK, ZERO_WIDTH = "\N{NO-BREAK SPACE}", "\N{ZERO WIDTH SPACE}"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("\n    key: E flat", f"\n{NO_BREAK * 4}key:{NO_BREAK}E{NO_BREAK}flat"),
        ("  - arpeggio", "  – arpeggio"),
        ("  - arpeggio", "  • arpeggio"),
        ("title: Five fresh mornings", "title: “Five fresh mornings”"),
        ("title: Five fresh mornings", "title: „Five fresh mornings“"),
        ("title: Five fresh mornings", "title: «Five fresh mornings»"),
        ("[slurred, single, double]", "[“slurred”, ‘single’, double]"),
        ("tempo: 60", f"te{ZERO_WIDTH}mpo: 60"),
        ("\n", "\r\n"),
        ("# Monday", "\ufeff# Monday"),
    ],
)
def test_signs_that_cannot_be_seen_change_nothing(old: str, new: str) -> None:
    assert old in GOOD
    routine, problems = read_routine(GOOD.replace(old, new), "m.yaml")
    assert problems == ()
    assert routine == read_routine(GOOD, "m.yaml")[0]


def test_a_teachers_own_quotation_marks_stay() -> None:
    text = GOOD.replace("words: Stand tall", "words: Say “tall”, then ‘low’ – stand tall")
    routine, _ = read_routine(text, "m.yaml")
    assert routine is not None
    assert routine.words.startswith("Say “tall”, then ‘low’ – stand")


def packed(path: Path, *names: str) -> Path:
    with zipfile.ZipFile(path, "w") as file:
        for name in names:
            file.writestr(name, "text " * 200)
    return path


def test_a_word_processors_file_is_called_by_its_name(tmp_path: Path) -> None:
    """Entries as ECMA-376 (part 2) and ISO/IEC 26300 (part 3) ask for; large ones too."""
    word = packed(tmp_path / "m.docx", "[Content_Types].xml", "word/document.xml")
    office = tmp_path / "m.odt"
    with zipfile.ZipFile(office, "w") as file:
        file.writestr("mimetype", "application/vnd.oasis.opendocument.text")
    for path, said in ((word, "a Word file"), (office, "a LibreOffice text file")):
        routine, (problem,) = load_routine(path)
        assert routine is None
        assert said in problem.what
        assert "Plain text" in problem.mend
    large = tmp_path / "large.docx"
    large.write_bytes(word.read_bytes() + bytes(200_000))
    assert "a Word file" in load_routine(large)[1][0].what


@pytest.mark.parametrize(
    ("begins", "kind"),
    [
        (b"{\\rtf1\\ansi", "a Rich Text file"),
        (b"%PDF-1.7", "a PDF file"),
        (bytes.fromhex("d0cf11e0a1b11ae1"), "an old Word or Excel file"),
        (b"\xef\xbb\xbf<!DOCTYPE html>", "a web page"),
        (b"PK\x03\x04nothing known", "a packed file, perhaps of a word processor"),
        (b"title: T", None),
        (b"# <html> is a note", None),
    ],
)
def test_the_first_bytes_tell_the_program(begins: bytes, kind: str | None) -> None:
    assert kind_of_file(begins) == kind


def test_a_second_colon_shows_the_writers_own_line() -> None:
    text = GOOD.replace("words: Stand tall, breathe", "words: Stand tall: breathe")
    _, (problem,) = read_routine(text, "m.yaml")
    assert 'words: "Stand tall: breathe low."' in problem.mend


@pytest.mark.parametrize(
    ("old", "new", "line", "mend"),
    [
        ("tempo: 60", "tempo; 60", 8, "tempo: 60"),
        ("[B4, A#4, A4]", "[B4 A#4 A4]", 14, "B4, A#4, A4"),
        ("- read: Well", "- Read Well", 45, "- read: Well done."),
        ("- rest: 2 minutes", "- rest:two minutes", 36, "- rest: two minutes"),
        ("exercises:\n", "exercises\n", 12, "exercises:"),
        ("title: Five", "Five", 2, "title: Five fresh mornings"),
        ("aims: {cents: 15, clean: 95 %}", "aims: cents 15, clean 95", 10, "{cents: 15"),
        ("partner: same notes", "partner: yes", 22, "same notes"),
        ("rest after: 1 minute", "rest after: 1", 23, "minute"),
        ("words: Stand", 'words: "Stand', 5, "Close it at the end"),
        ("    from: 60", "    from: -1", 32, "20"),
    ],
)
def test_a_mistake_is_told_where_it_stands(old: str, new: str, line: int, mend: str) -> None:
    assert old in GOOD
    routine, problems = read_routine(GOOD.replace(old, new), "m.yaml")
    assert routine is None
    assert any(one.line == line and mend in one.mend for one in problems), problems


@pytest.mark.slow
def test_files_broken_by_lot_are_told_at_their_place() -> None:
    """A few by a seed of their own; the bench has as many as one likes."""
    verdicts = [judged(one) for one in drawn(2026, 60)]
    assert sum(one.at_its_place for one in verdicts) >= 59
    assert sum(one.mended for one in verdicts) >= 57
    assert not any(one.false_suggestions or one.taken for one in verdicts)
