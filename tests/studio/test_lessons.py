"""The list for a day of lessons, in a real browser."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from tests.browser import A4_POINTS, browsed, needs_chromium, printed, sheets
from trainer.studio.folders import student_folders
from trainer.studio.lessons import lessons, lessons_page

ENDING = date(2026, 11, 25)


def page_of(studio: Path, state: Path, times: int = 1) -> str:
    return lessons_page(lessons(student_folders(studio)[0] * times, state, ENDING))


@needs_chromium
def test_five_lessons_print_on_one_sheet_of_a4(studio: Path, state: Path, tmp_path: Path) -> None:
    pdf, said = printed(page_of(studio, state), tmp_path)
    assert said == []
    assert sheets(pdf) == 1
    narrow, wide, low, high = A4_POINTS
    boxes = re.findall(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    assert all(narrow < float(w) < wide and low < float(h) < high for w, h in boxes)


@needs_chromium
@pytest.mark.slow
def test_a_long_day_goes_on_to_more_sheets(studio: Path, state: Path, tmp_path: Path) -> None:
    html = page_of(studio, state, times=4)
    pdf, said = printed(html, tmp_path)
    assert said == []
    assert 2 <= sheets(pdf) <= 4
    dom = browsed(html, tmp_path, "--dump-dom").stdout
    assert dom.count("<section>") == 20


def test_nothing_in_it_comes_from_elsewhere(studio: Path, state: Path) -> None:
    html = page_of(studio, state)
    assert not re.search(r"(?:src|href)=|url\(|@import|<script", html)
    assert "default-src 'none'" in html
    assert "C♯6" in html, "notes are written with signs"
