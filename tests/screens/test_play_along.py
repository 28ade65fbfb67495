"""The teacher plays first: reached by one key from a round that is ready and from a pause."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from trainer.session.view import PlayAlongStep, Stage


async def waits(at: Any, step: PlayAlongStep) -> str:
    await at.until(lambda: (view := at.session.view().play_along) is not None and view.step is step)
    at.app.screen.look()
    return str(await at.shown())


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 12)])
async def test_from_a_round_that_is_ready_and_back(
    stand: Callable[..., Any], size: tuple[int, int]
) -> None:
    async with stand(size) as at:
        at.session.advance()
        await at.until(lambda: at.session.view().stage is Stage.READY)
        await at.press("l")
        shown = await waits(at, PlayAlongStep.TEACHER)
        assert "The teacher plays" in shown
        assert "turn the volume down" in " ".join(shown.split())
        if size[1] > 12:
            assert "Nothing of this is written down" in shown
        await at.press("pagedown")
        await at.until(lambda: bool(at.session.view().play_along.words))
        at.app.screen.look()
        assert "Too little of that was heard" in await at.shown()
        await at.press("escape")
        assert at.session.view().play_along is None
        assert at.session.view().stage is Stage.READY


async def test_a_lost_device_is_told_there(stand: Callable[..., Any]) -> None:
    async with stand() as at:
        at.session.advance()
        await at.until(lambda: at.session.view().stage is Stage.READY)
        await at.press("l")
        await waits(at, PlayAlongStep.TEACHER)
        at.port.lose("The microphone was unplugged.")
        at.session.tick()
        assert "The microphone was unplugged." in await at.shown()


async def test_from_a_pause_and_not_before_the_routine(stand: Callable[..., Any]) -> None:
    async with stand() as at:
        at.app.action_play_along()
        await at.shown()
        assert ["round is ready" in one.message for one in at.app._notifications] == [True]
        at.session.advance()
        await at.until(lambda: at.session.view().stage is Stage.READY)
        await at.press("pagedown")
        await at.until(lambda: at.session.view().stage is Stage.COUNT_IN)
        await at.press("p")
        await at.until(lambda: at.session.view().stage is Stage.PAUSED)
        await at.press("l")
        await waits(at, PlayAlongStep.TEACHER)
        await at.press("q")
        assert at.session.view().stage is Stage.PAUSED
