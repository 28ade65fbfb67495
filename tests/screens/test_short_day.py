"""From Today to a few minutes, or to one trouble spot picked from the shelf."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from trainer.app.anew import Anew
from trainer.app.spots_told import EMPTY, HEALED
from trainer.music.pitch import Pitch
from trainer.session.view import ShelvedSpot, Stage

OPEN = ShelvedSpot(
    exercise_id="tide",
    pitches=(Pitch.parse("C5"), Pitch.parse("D5")),
    begin_bpm=50.0,
    best_bpm=None,
    met_days=9,
    last_days=2,
    due_days=0,
    healed=False,
)
OTHER = replace(OPEN, pitches=(Pitch.parse("G#5"), Pitch.parse("A5")), best_bpm=72.0, met_days=1)
SMOOTH = replace(OTHER, pitches=(Pitch.parse("Eb6"), Pitch.parse("F6")), healed=True, due_days=6)


async def test_a_short_day_is_asked_for_from_today_alone(stand: Callable[..., Any]) -> None:
    async with stand((80, 24)) as at:
        await at.press("f")
        assert at.app.return_value is Anew.FEW_MINUTES
    async with stand((80, 24)) as at:
        await at.press("pagedown")
        await at.press("f")
        await at.press("k")
        assert at.app.return_value is None
        assert at.session.view().stage is Stage.READY


async def test_a_spot_is_picked_with_its_story_its_notes_and_its_fingers(
    stand: Callable[..., Any],
) -> None:
    async with stand((80, 24)) as at:
        at.app._shelf = lambda: (OPEN, OTHER, SMOOTH)
        shown = await at.press("k")
        assert "C5–D5    not clean twice yet   met 9 days ago   due now" in shown.replace("▸ ", "")
        assert "G#5–A5   clean at 72   met yesterday   due now" in shown
        assert shown.index(HEALED) < shown.index("Eb6–F6")
        assert "due in 6 days" in shown
        assert "●" in shown, "its fingers"
        assert "▐" in shown, "its staff"
        shown = await at.press("down")
        assert "▸ G#5–A5" in shown
        await at.press("pagedown")
        assert at.app.return_value == OTHER


async def test_an_empty_shelf_says_so_and_leads_back(stand: Callable[..., Any]) -> None:
    async with stand((80, 24)) as at:
        assert EMPTY.split(".")[0] in await at.press("k")
        await at.press("pagedown")
        assert at.session.view().stage is Stage.TODAY
        assert at.app.return_value is None


async def test_a_device_lost_is_told_on_the_shelf_and_on_today(
    stand: Callable[..., Any],
) -> None:
    async with stand((80, 24)) as at:
        at.app._shelf = lambda: (OPEN,)
        await at.press("k")
        at.port.lose("The microphone was unplugged.")
        at.session.tick()
        assert "The microphone was unplugged." in await at.shown()
        assert "The microphone was unplugged." in await at.press("escape")
