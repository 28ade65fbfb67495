"""The lesson page: what stands in it, and what real headless Chromium makes of it."""

from __future__ import annotations

import builtins
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path

import pytest

from demo.made_rounds import plain_round
from tests.browser import (
    A4_POINTS,
    asked_of_the_network,
    browsed,
    needs_chromium,
    printed,
    sheets,
)
from tests.sweeps import mostly_slow
from trainer.coach.advice import Topic
from trainer.errors import JournalError
from trainer.journal.lesson_page import lesson_page, with_signs
from trainer.journal.log import AskedExercise, LaterRemark, NoteLog, SessionLog
from trainer.journal.week_summary import week
from trainer.music.note import Articulation
from trainer.music.pitch import sharp_name
from trainer.routine.round import Aims, RoundKind

from .odd_weeks import ODD

pictures = pytest.importorskip(
    "matplotlib.image", reason="the plots need the optional extra 'pages'"
)

ENDING = date(2026, 11, 22)
SECRET = "the wolf under the bed"
VOID = {"meta", "br", "link", "img", "hr"}


class Page(HTMLParser):
    """The page's words, tags and attributes; complains of tags that don't pair."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.cells: list[str] = []
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] not in ("style", "title"):
            self.words += " ".join(data.split()) + " "
        if self.open and self.open[-1] == "td":
            self.cells.append(data)


@pytest.fixture(scope="module")
def sessions(invented_weeks: Callable[[int, date], list[SessionLog]]) -> list[SessionLog]:
    return invented_weeks(3, ENDING)


@pytest.fixture(scope="module")
def usual(sessions: list[SessionLog]) -> str:
    return page_of(sessions)


@pytest.fixture(scope="module")
def crowded() -> str:
    """More of everything than two sheets hold, all of it as long as it may be."""
    return page_of(list(crowded_sessions()))


def crowded_sessions() -> Iterator[SessionLog]:
    long = "A title without an end, and then some <b>&amp; more of it</b> " * 4
    notes = [
        NoteLog(sharp_name(midi), cents=(-1) ** midi * (midi - 50), vibrato_hz=5.0, blip=True)
        for midi in range(60, 99)
    ]
    for back in range(10):
        at = datetime(2026, 11, 22, 9, 0, tzinfo=UTC) - timedelta(days=back)
        rounds = [
            plain_round(
                notes, started=at + timedelta(minutes=number), seconds=60, exercise_id=f"e{number}",
                title=f"{number} {long}", key=f"{number % 7} {long}", number=1,
                tempo_bpm=60 + number,
                articulation=list(Articulation)[number % len(Articulation)],
                kind=RoundKind.KNOT if number % 3 == 0 else RoundKind.TECHNIQUE,
                evenness_ms=20.0 + 9 * (back > 6), aims=Aims(evenness_ms=10),
                topic=Topic.SECURE,
            )
            for number in range(24)
        ]  # fmt: skip
        for instrument in ("flute", "alto flute", long):
            yield SessionLog(
                at, instrument=instrument, student=long, rounds=tuple(rounds), elapsed_s=7200.0,
                asked=tuple(AskedExercise(f"e{n}", f"{n} {long}", 5) for n in range(25)),
                felt=long, remark=long * 5, remarks=(LaterRemark(long * 3, at),) * 3,
            )  # fmt: skip


def page_of(sessions: list[SessionLog]) -> str:
    return lesson_page(week(sessions, ENDING), sessions)


def test_every_section_is_there(usual: str) -> None:
    page = Page(usual)
    assert page.open == []
    assert page.tags.count("svg") == 5
    for words in (
        "Ilse Varn: 16 November to 22 November 2026",
        "7 of 7 days (last week 6) 7 sessions 154 minutes (last week 132)",
        "One thing for next week",
        "Minutes by day",
        "Playing by kind",
        "Asked and done",
        "Tuning of the flute",
        "Scales and arpeggios",
        "Evenness round by round, D major",
        "Trouble spots",
        "C♯6–D6",
        "Better than last week",
        "Air and vibrato",
        "At the lesson",
        "Fri 20: The C sharp to D sticks, above all coming down.",
    ):
        assert words in page.words


def test_it_is_the_same_every_time(sessions: list[SessionLog], usual: str) -> None:
    assert page_of(sessions) == usual


def test_nothing_comes_from_elsewhere_and_nothing_runs(crowded: str) -> None:
    page = Page(crowded)
    assert not {"script", "img", "link", "iframe", "object", "image", "a"} & set(page.tags)
    assert not [name for name, _ in page.attributes if name.startswith("on") or name == "src"]
    links = [value for name, value in page.attributes if name.endswith("href")]
    assert all(value.startswith("#") for value in links)
    assert not re.search(r"url\((?!#)|@import", crowded)


def test_ids_are_unique_and_links_lead_somewhere(crowded: str) -> None:
    ids = [value for name, value in Page(crowded).attributes if name == "id"]
    assert len(ids) == len(set(ids))
    assert set(re.findall(r"(?:href=\"|url\()#([\w-]+)", crowded)) <= set(ids)


def test_it_needs_no_colour(usual: str) -> None:
    for red, green, blue in re.findall(r"#([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})\b",
                                       usual):  # fmt: skip
        assert red == green == blue


def test_private_words_stay_out(sessions: list[SessionLog]) -> None:
    last = replace(
        sessions[-1], felt=f"{SECRET} 1", remark=f"{SECRET} 2", private=True,
        remarks=(LaterRemark("for all"), LaterRemark(f"{SECRET} 3", private=True)),
    )  # fmt: skip
    text = page_of([*sessions[:-1], last])
    assert SECRET not in text
    assert "for all" in text


def test_an_empty_week_is_a_page_too() -> None:
    page = Page(page_of([]))
    assert "Nothing was written down" in page.words
    assert page.tags.count("svg") == 1


def test_titles_cannot_break_the_page(crowded: str) -> None:
    page = Page(crowded)
    assert page.open == []
    assert "b" not in page.tags


def test_notes_wear_their_signs() -> None:
    assert with_signs("C#6 to Bb5, B major, F##4") == "C♯6 to B♭5, B major, F𝄪4"


def test_a_missing_library_is_told(
    sessions: list[SessionLog], monkeypatch: pytest.MonkeyPatch
) -> None:
    load = builtins.__import__

    def without(name: str, *rest: object) -> object:
        if name.startswith("matplotlib"):
            raise ModuleNotFoundError(name)
        return load(name, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(JournalError, match="pip install"):
        page_of(sessions)


# In headless Chromium


def odd_page(name: str) -> str:
    make, ending = ODD[name]
    sessions = make()
    return lesson_page(week(sessions, ending), sessions)


@needs_chromium
@pytest.mark.parametrize("which", mostly_slow(["usual", "crowded", "nothing", "one round"], 2))
def test_it_prints_on_two_sheets_of_a4_without_a_complaint(
    which: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    page = odd_page(which) if which in ODD else request.getfixturevalue(which)
    pdf, said = printed(page, tmp_path)
    assert said == []
    assert 1 <= sheets(pdf) <= 2
    boxes = re.findall(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    assert boxes
    narrow, wide, low, high = A4_POINTS
    assert all(narrow < float(w) < wide and low < float(h) < high for w, h in boxes)


@needs_chromium
def test_the_plots_are_drawn(usual: str, tmp_path: Path) -> None:
    """The page as Chromium understood it: each plot holds shapes and words of its own."""
    dom = browsed(usual, tmp_path, "--dump-dom").stdout
    plots = re.findall(r"<svg .*?</svg>", dom, re.DOTALL)
    told = ("rests between", "long tones", "coming down", "held at", "legato tongue")
    for plot, words in zip(plots, told, strict=True):
        assert plot.count("<path") > 5
        assert words in re.sub(r"<[^>]*>", "", plot)


@needs_chromium
def test_it_asks_nothing_of_the_network(crowded: str, tmp_path: Path) -> None:
    assert asked_of_the_network(crowded, tmp_path) == []
    picture = '<img src="https://localhost:9/x.png">'
    reaching = re.sub("<meta http-equiv=.*?>", "", crowded).replace("</body>", f"{picture}</body>")
    assert asked_of_the_network(reaching, tmp_path) == ["https://localhost:9/x.png"]


@needs_chromium
@pytest.mark.parametrize("width", [1280, 500])
def test_it_looks_grey_and_not_empty_on_a_screen(usual: str, tmp_path: Path, width: int) -> None:
    """Every pixel of a real screenshot."""
    picture = tmp_path / "page.png"
    browsed(usual, tmp_path, "--hide-scrollbars", f"--window-size={width},1400",
            f"--screenshot={picture}")  # fmt: skip
    pixels = pictures.imread(picture)[:, :, :3]
    assert float(abs(pixels - pixels.mean(axis=2, keepdims=True)).max()) < 0.02
    assert 0.02 < float((pixels < 0.7).mean()) < 0.3, "ink, and white around it"


@needs_chromium
def test_the_console_would_be_heard(tmp_path: Path) -> None:
    """A page that reaches outside or fails does show in what we look at."""
    body = '<script>throw new Error("odd")</script>' + "<p style='break-before: page'>x</p>" * 3
    pdf, said = printed(f"<!DOCTYPE html><html><body>{body}</body></html>", tmp_path)
    assert any("odd" in line for line in said)
    assert sheets(pdf) > 2
    outside = page_of([]).replace("</body>", '<img src="https://localhost:9/x.png"></body>')
    _, said = printed(outside, tmp_path)
    assert any("Content Security Policy" in line for line in said)
