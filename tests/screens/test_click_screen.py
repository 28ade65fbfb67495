"""The click's screen: large figures, the bar's beats, and the keys that change it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from trainer.session.view import Stage

TICKS = 2400


async def wait(at: Any, seconds: float) -> str:
    end = at.port.now_frame() + round(seconds * at.port.sample_rate_hz)
    await at.until(lambda: at.port.now_frame() >= end)
    at.app.screen.look()
    return str(await at.shown())


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 12)])
async def test_it_is_begun_changed_and_left_by_keys(
    stand: Callable[..., Any], size: tuple[int, int]
) -> None:
    async with stand(size) as at:
        await at.press("c")
        shown = await at.press("space")
        shown = await wait(at, 1.4)
        assert "4 in a bar" in shown
        assert "○ ● ○ ○" in shown
        rows = [line for line in shown.splitlines() if "█" in line or "▀" in line]
        assert len(rows) >= size[1] // 3, "as large as the window"
        await at.press("b", "b", "x", "g")
        assert "3+2 in a bar" in await wait(at, 0.3)
        await at.press("pagedown")
        assert at.session.view().click is None
        assert at.session.view().stage is Stage.TODAY


@pytest.mark.parametrize("key", ["c", "t"])
async def test_a_lost_device_is_told_there(stand: Callable[..., Any], key: str) -> None:
    async with stand((80, 24)) as at:
        await at.press(key)
        at.port.lose("The loudspeaker was unplugged.")
        at.session.tick()
        at.app.screen.look()
        assert "The loudspeaker was unplugged." in await at.shown()
        at.port.come_back("It is back.")
        assert "It is back." in await wait(at, 0.3)
