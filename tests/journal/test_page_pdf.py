"""The lesson page as PDF, read back with pypdf."""

from __future__ import annotations

import builtins
import io
import os
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from tests.sweeps import mostly_slow
from trainer import cli
from trainer.errors import PaperError
from trainer.journal.encode import session_text
from trainer.journal.lesson_page import lesson_page
from trainer.journal.log import AskedExercise, SessionLog
from trainer.journal.week_summary import week
from trainer.music.note import Articulation
from trainer.paper.pdf import pdf
from trainer.routine.round import RoundKind

from .odd_weeks import ODD, OddWeeks, at

pypdf = pytest.importorskip("pypdf")
pytest.importorskip("matplotlib", reason="the plots need the optional extra 'pages'")
try:
    pdf("<p>words</p>")
except PaperError as missing:
    pytest.skip(str(missing), allow_module_level=True)

ENDING = date(2026, 11, 22)
A4_POINTS = (595.28, 841.89)
"""ISO 216: 210 mm × 297 mm."""


@pytest.fixture(scope="module")
def sessions(invented_weeks: Callable[[int, date], list[SessionLog]]) -> list[SessionLog]:
    return invented_weeks(3, ENDING)


def test_the_pdf_holds_the_page(sessions: list[SessionLog]) -> None:
    summary = week(sessions, ENDING)
    read = pypdf.PdfReader(io.BytesIO(pdf(lesson_page(summary, sessions))))
    assert 1 <= len(read.pages) <= 2
    for sheet in read.pages:
        assert (float(sheet.mediabox.width), float(sheet.mediabox.height)) == pytest.approx(
            A4_POINTS, abs=1
        )
    words = " ".join(" ".join(sheet.extract_text() for sheet in read.pages).split())
    assert "Ilse Varn" in words
    assert "One thing for next week" in words
    assert "Your own words" in words


@pytest.mark.parametrize("name", mostly_slow(["nothing", "one round", "crowded"], 1))
def test_any_week_takes_two_sheets_at_most(name: str) -> None:
    make, ending = ODD[name]
    sessions = make()
    page = lesson_page(week(sessions, ending), sessions)
    assert 1 <= len(pypdf.PdfReader(io.BytesIO(pdf(page))).pages) <= 2


@pytest.mark.slow
@pytest.mark.parametrize(("instruments", "asked", "scales"), [(1, 25, 40), (2, 6, 11), (3, 25, 20)])
def test_any_mixture_takes_two_sheets_at_most(instruments: int, asked: int, scales: int) -> None:
    sessions = list(mixture(instruments, asked, scales))
    page = lesson_page(week(sessions, ENDING), sessions)
    assert len(pypdf.PdfReader(io.BytesIO(pdf(page))).pages) <= 2


def mixture(instruments: int, asked: int, scales: int) -> Iterator[SessionLog]:
    """A week full of long words, with so many of each."""
    weeks = OddWeeks(1)
    for day in range(5):
        for number in range(instruments):
            log = weeks.session(at(ENDING - timedelta(days=day), 8 + number), 1)
            rounds = [
                replace(
                    log.rounds[0], kind=RoundKind.TECHNIQUE, key=f"F sharp minor {each // 3}",
                    articulation=list(Articulation)[each % 3],
                )
                for each in range(scales)
            ]  # fmt: skip
            yield replace(
                log, instrument=("flute", "alto flute", "bass flute")[number], private=False,
                rounds=tuple(rounds), remark="Some words about it all. " * 12,
                asked=tuple(AskedExercise(f"e{n}", f"Exercise {n} " * 4, 5) for n in range(asked)),
            )  # fmt: skip


def test_nothing_is_fetched(caplog: pytest.LogCaptureFixture) -> None:
    """A page with an address in it: the address is refused, the rest is printed."""
    page = '<p>words</p><img src="http://localhost:9/x.png"><img src="file:///etc/hostname">'
    read = pypdf.PdfReader(io.BytesIO(pdf(page)))
    assert read.pages[0].extract_text() == "words"
    refused = [record.getMessage() for record in caplog.records]
    assert sum("disallowed protocol" in message for message in refused) == 2


@pytest.mark.slow
def test_the_command_writes_it(
    sessions: list[SessionLog], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(os.environ, "TRAINER_HOME", str(tmp_path))
    (tmp_path / "journal").mkdir()
    for log in sessions:
        (tmp_path / "journal" / f"{log.started:%Y-%m-%d}.yaml").write_text(session_text(log))
    file = tmp_path / "lesson.PDF"
    assert cli.main(["week", "--ending", str(ENDING), "--page", str(file)]) == 0
    assert len(pypdf.PdfReader(file).pages) <= 2


def test_another_ending_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["week", "--page", str(tmp_path / "lesson.doc")]) != 0
    assert "ends in .html or .pdf" in capsys.readouterr().err


@pytest.mark.parametrize("fault", [ModuleNotFoundError("weasyprint"), OSError("no libpango")])
def test_a_missing_library_is_told(fault: Exception, monkeypatch: pytest.MonkeyPatch) -> None:
    load = builtins.__import__

    def without(name: str, *rest: object) -> object:
        if name.startswith("weasyprint"):
            raise fault
        return load(name, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(PaperError, match="apt install libpango"):
        pdf("<p>")
