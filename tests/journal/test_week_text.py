from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, date, datetime

import pytest

from demo.made_rounds import plain_round
from trainer.journal.charts import bar, columns, row_height
from trainer.journal.log import NoteLog, SessionLog
from trainer.journal.week_summary import Week, week
from trainer.journal.week_text import cut, week_json, week_pages, week_text
from trainer.music.pitch import sharp_name

ENDING = date(2026, 11, 22)
AT = datetime(2026, 11, 20, 18, 0, tzinfo=UTC)


@pytest.fixture
def found(invented_weeks: Callable[[int, date], list[SessionLog]]) -> Week:
    return week(invented_weeks(3, ENDING), ENDING)


def week_of_notes(*notes: NoteLog, times: int = 3) -> Week:
    round_ = plain_round(
        list(notes), started=AT, seconds=60, exercise_id="x", title="A very long title " * 5
    )
    return week([SessionLog(AT, rounds=(round_,) * times)], ENDING)


def test_it_fits_the_terminal_without_colour(found: Week) -> None:
    text = week_text(found)
    assert max(map(len, text.splitlines())) <= 76
    assert "\x1b" not in text


def test_each_page_fits_a_plain_terminal(found: Week) -> None:
    """80 columns and 24 rows, less the margins and the keys of a screen."""
    pages = week_pages(found, "Begin with the ladder.")
    assert 2 <= len(pages) <= 3
    assert max(page.count("\n") + 1 for page in pages) <= 21
    assert "From your teacher" in pages[0]
    assert "One thing for next week" in pages[0]


def test_the_whole_range_fits_too() -> None:
    """C4 to E7, wider than a flute's range, all chromatic."""
    notes = [NoteLog(sharp_name(midi), cents=midi - 80) for midi in range(60, 101)]
    text = week_text(week_of_notes(*notes))
    assert max(map(len, text.splitlines())) <= 76


def test_every_section_is_there(found: Week) -> None:
    text = week_text(found)
    for words in (
        "Ilse Varn, Monday 16 November to Sunday 22 November 2026",
        "7 of 7 days (last week 6), 154 minutes (last week 132)",
        "One thing for next week",
        "Minutes by day",
        "Asked and done",
        "■■■□□□□ 3 of 7 days",
        "Tuning of the flute",
        "C#6–D6",
        "Fri 20: The C sharp to D sticks, above all coming down.",
    ):
        assert words in text


def test_an_empty_week_says_so() -> None:
    text = week_text(week([], ENDING))
    assert "0 of 7 days" in text
    assert "Nothing was written down" in text
    assert "█" not in text


def test_sharp_goes_up_and_flat_goes_down() -> None:
    text = week_text(week_of_notes(NoteLog("D5", cents=12), NoteLog("Eb5", cents=-12)))
    rows = {line[5:9].strip(): line[10:] for line in text.splitlines() if line[5:9].strip()}
    assert rows["+10"] == "█"
    assert rows["-10"] == "  █"
    assert "D5    +12 sharp" in text
    assert "Eb5   −12 flat" in text


def test_a_note_heard_twice_is_not_drawn() -> None:
    text = week_text(week_of_notes(NoteLog("D5", cents=12), times=2))
    assert "heard too seldom to say: D5" in text
    assert "█ " not in text.split("Tuning")[1]


def test_the_json_is_json(found: Week) -> None:
    plain = json.loads(json.dumps(week_json(found), allow_nan=False))
    assert plain["ending"] == "2026-11-22"
    assert plain["techniques"][0]["articulation"] == "slurred"


@pytest.mark.parametrize(
    ("value", "drawn"),
    [(0, "    "), (10, "████"), (5, "██  "), (0.01, "▏   "), (99, "████"), (6.25, "██▌ ")],
)
def test_bars(value: float, drawn: str) -> None:
    assert bar(value, 10, 4) == drawn


def test_columns_end_in_an_arrow_beyond_the_last_row() -> None:
    above, below = columns([5, 7.5, 10, 30, -5, -30, 1], row_height=5, rows=2)
    assert above == [" ▄█↑   ", "████   "]
    assert below == ["    ██ ", "     ↓ "]


def test_the_scale_grows_with_the_values() -> None:
    assert [row_height([value], 4) for value in (0, 20, -21, 40, 90)] == [5, 5, 10, 10, 20]


def test_a_name_of_two_lines_forges_no_line() -> None:
    assert cut("Ilse\nAnna  30 min\r\n", 40) == "Ilse Anna  30 min"
    assert cut("Ilse\nAnna", 8) == "Ilse An…"
