"""The tuner's screen: from Today and from a pause, by keys; never while a round sounds."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import numpy as np
import pytest

from trainer.app.room_tunings import RoomTuning
from trainer.screens.app import Rooms
from trainer.session.view import Stage
from trainer.sound.port import Samples

RATE = 48000


def tone(hz: float, seconds: float) -> Samples:
    time_s = np.arange(round(seconds * RATE)) / RATE
    sound = sum(np.sin(2 * np.pi * k * hz * time_s) / k for k in (1, 2, 3))
    return (0.1 * np.asarray(sound)).astype(np.float32)


async def play(at: Any, hz: float, seconds: float = 1.2) -> str:
    at.port.sing(tone(hz, seconds), at.port.now_frame())
    end = at.port.now_frame() + round(seconds * RATE)
    await at.until(lambda: at.port.now_frame() >= end)
    at.app.screen.look()
    return str(await at.shown())


async def test_from_today_it_names_what_sounds_and_goes_back(stand: Callable[..., Any]) -> None:
    async with stand((80, 24)) as at:
        await at.press("t")
        shown = await play(at, 587.33 * 2 ** (12 / 1200))
        assert "A4 = 440" in shown
        assert "D5   12 cents sharp" in shown
        assert "△" in shown, "never by colour alone"
        shown = await play(at, 587.33)
        assert "in tune" in shown
        assert "△" not in shown
        await at.press("d")
        shown = await play(at, 880.99)
        assert "above D5, pure" in shown
        assert "A5   in tune" in shown
        assert "above D5 with its fifth, pure" in await at.press("f")
        await at.press("pagedown")
        assert at.session.view().tuner is None
        assert at.session.view().stage is Stage.TODAY


async def test_somebody_elses_a_is_taken_or_kept_for_its_room(stand: Callable[..., Any]) -> None:
    taken: list[tuple[float, str]] = []
    kept = (RoomTuning("church", 415.3, date(2026, 3, 1)),)
    async with stand((120, 40)) as at:
        at.app._rooms = Rooms(lambda: kept, lambda a4_hz, room: taken.append((a4_hz, room)))
        await at.press("pagedown")
        await at.press("t")
        assert "1 church 415.3" in await at.shown(), "offered, not used"
        assert at.session.view().tuner.a4_hz == 440
        at.port.fail("Sound was lost for a moment.")
        at.session.tick()
        assert "Sound was lost for a moment." in await at.shown()
        await at.press("a")
        await at.until(lambda: at.session.view().tuner.a_seconds_left is not None)
        assert "Let A4 sound" in await at.shown(), "what is asked after a fault is seen"
        assert "A4 is at 443.1" in await play(at, 443.1, 4.4)
        await at.press("a")
        await at.until(lambda: at.session.view().tuner.a_seconds_left is not None)
        await at.press("up")
        await at.until(lambda: "Let Bb4 sound" in at.session.view().tuner.words)
        assert "A4 is at 442.0" in await play(at, 442 * 2 ** (1 / 12), 4.4)
        await at.press("a")
        await at.until(lambda: at.session.view().tuner.a_seconds_left is not None)
        await at.press("down")
        await at.until(lambda: "Let A4 sound" in at.session.view().tuner.words)
        assert "A4 is at 443.1" in await play(at, 443.1 / 2, 4.4)
        await at.press("k", *"hall", "enter")
        await at.press("t", "9", "1")
        assert [room for _, room in taken] == ["hall", "church"]
        assert [a4_hz for a4_hz, _ in taken] == pytest.approx([443.1, 415.3], abs=0.05)


async def test_it_fits_any_window_and_says_when_a_round_sounds(stand: Callable[..., Any]) -> None:
    async with stand((40, 12)) as at:
        await at.press("t")
        shown = await play(at, 261.63)
        assert "C4   in tune" in shown
        assert "█" in shown, "the figure is there however low the window"
        await at.press("escape")
        at.session.advance()
        at.session.advance()
        await at.until_stage(Stage.PLAYING)
        await at.press("t")
        assert at.session.view().tuner is None
        assert at.session.view().stage is Stage.PLAYING
