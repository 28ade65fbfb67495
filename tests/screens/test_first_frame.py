"""No frame of a page is painted before the page is whole."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from itertools import product
from queue import SimpleQueue
from typing import Any

import pytest
from textual.app import App
from textual.screen import Screen

from demo.gallery import CELL_PIXELS
from tests.sweeps import mostly_slow
from trainer.screens.app import TrainerApp
from trainer.screens.pixels.terminal_pixels import PixelWay
from trainer.session.view import Stage

Frames = dict[Screen[Any], list[str]]
PAGES = "m w g s question_mark c t"
WAYS, SIZES = (PixelWay.KITTY, PixelWay.SIXEL, None), ((120, 40), (80, 24))
SHORT = """
title: A short one
exercises:
  - {scale: hill, key: E flat, range: full, tempo: 160, articulations: [slurred]}
  - read: Breathe out slowly.
  - rest: 30 seconds
"""


@pytest.fixture
def frames(monkeypatch: pytest.MonkeyPatch) -> Frames:
    """What stood on each screen whenever it was painted."""
    painted: Frames = defaultdict(list)
    display = App._display

    def noted(app: App[Any], screen: Screen[Any], update: Any) -> None:
        if update is not None and not app._batch_count:
            strips = screen._compositor.render_strips()
            painted[screen].append("\n".join(strip.text.rstrip() for strip in strips))
        display(app, screen, update)

    monkeypatch.setattr(App, "_display", noted)
    monkeypatch.setattr("trainer.screens.playing_screen.cell_pixels", lambda: CELL_PIXELS)
    return painted


class _AnsweredAtOnce(SimpleQueue):  # type: ignore[type-arg]
    """What the session is asked, done by another thread before the page stands."""

    def __init__(self, tick: Callable[[], None]) -> None:
        self._tick = tick

    def put(self, asked: Any, *_: Any) -> None:
        super().put(asked)
        self._tick()


@pytest.mark.parametrize("shown", mostly_slow(product(WAYS, SIZES), 1))
async def test_the_first_frame_is_the_last(
    stand: Callable[..., Any],
    frames: Frames,
    monkeypatch: pytest.MonkeyPatch,
    shown: tuple[PixelWay | None, tuple[int, int]],
) -> None:
    """Through a morning: every page over Today, then a round, what was heard of it, and the end."""
    way, size = shown
    monkeypatch.setattr(TrainerApp, "pixels", way)
    changed: dict[str, list[str]] = {}
    async with stand(size, SHORT) as at:

        async def stands() -> None:
            await at.shown()
            page = at.app.screen
            if len(set(frames[page])) != 1:
                changed[type(page).__name__] = frames[page].copy()

        at.session._asked = _AnsweredAtOnce(at.session.tick)
        await stands()
        for key in PAGES.split():
            await at.pilot.press(key)
            await stands()
            await at.press("escape")
        for stage in (Stage.READY, Stage.AFTER, Stage.READING, Stage.REST, Stage.ENDED):
            frames.clear()  # a screen may serve for two of them
            await at.pilot.press("n" if stage is Stage.READING else "pagedown")
            await at.until_stage(stage)
            await stands()
    assert not changed
