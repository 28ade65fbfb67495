"""The day's music looked through before it is played."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.screens.rounds import round_of
from tests.screens.test_round_layout import full_range_round
from trainer.screens.drawing.preview_pages import preview_pages
from trainer.screens.drawing.round_layout import score
from trainer.screens.preview_screen import PreviewScreen
from trainer.screens.today_screen import TodayScreen
from trainer.session.view import Stage

Opened = Callable[..., Any]
TWO = """
title: Two
exercises:
  - {scale: hill, key: D, range: full, tempo: 60}
  - read: Breathe out slowly.
  - {scale: dale, key: F, range: one octave, tempo: 60}
"""
MOST_PAGES = 12


async def test_one_key_shows_the_music_and_pagedown_leads_through_it(stand: Opened) -> None:
    async with stand((80, 24), TWO) as at:
        await at.press("m")
        titles: list[str] = []
        for _ in range(MOST_PAGES):
            if not isinstance(at.app.screen, PreviewScreen):
                break
            shown = await at.shown()
            assert "▟▛" in shown
            titles.append(shown.splitlines()[0].strip())
            await at.press("pagedown")
        assert [title.split("   ")[0] for title in dict.fromkeys(titles)] == ["1 of 3", "3 of 3"]
        assert "D major, full range" in titles[0]
        assert isinstance(at.app.screen, TodayScreen)
        assert at.session.view().stage is Stage.TODAY
        assert not list(at.journal.glob("*.yaml"))


@pytest.mark.parametrize("key", ["escape", "q", "m"])
async def test_back_at_any_time(stand: Opened, key: str) -> None:
    async with stand((80, 24), TWO) as at:
        await at.press("m")
        assert "PageDown to begin" in await at.press(key)


async def test_another_size_keeps_the_exercise(stand: Opened) -> None:
    async with stand((80, 24), TWO) as at:
        await at.press("m")
        for _ in range(MOST_PAGES):
            if "3 of 3" in await at.shown():
                break
            await at.press("pagedown")
        await at.pilot.resize_terminal(120, 40)
        assert "3 of 3" in await at.shown()
        await at.press("up")
        assert "1 of 3" in await at.shown()


async def test_a_day_without_music_says_so(stand: Opened) -> None:
    async with stand(text="title: Words\nexercises: [{read: Breathe out slowly.}]") as at:
        assert "Nothing to play" in await at.press("m")
        assert isinstance(at.app.screen, PreviewScreen)
        await at.press("pagedown")
        assert isinstance(at.app.screen, TodayScreen)


@pytest.mark.parametrize(("width", "height"), [(80, 22), (120, 38), (200, 60)])
def test_every_system_is_on_a_page_once(width: int, height: int) -> None:
    round_ = full_range_round("D")
    pages = preview_pages(round_, width, height)
    clefs = sum(row.text.startswith("   ▞▚") for page in pages for row in page)
    assert clefs == len(score(round_, width, height).systems)
    assert all(len(page) <= height for page in pages)


def test_a_round_of_one_note_has_one_page() -> None:
    one = full_range_round("C").notes[:1]
    assert len(preview_pages(round_of(one), 80, 22)) == 1
