"""Two takes heard one after the other, from the week and from the end."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from trainer.screens.then_and_now_screen import TwoTakes
from trainer.session.view import Stage
from trainer.sound.soundfile_io import write_sound

RATE = 48000


def two(folder: Path) -> TwoTakes:
    files = (folder / "old.flac", folder / "new.flac")
    for file in files:
        write_sound(file, np.full(RATE // 2, 0.1, np.float32), RATE)
    return TwoTakes("D major", ("Sunday, 4 October, at 60", "Friday, at 66"), files, "Now: even.")


async def sounds(at: Any, place: int | None) -> str:
    await at.until(lambda: at.session.view().side_by_side.sounding == place)
    at.app.screen.look()
    return str(await at.shown())


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 12)])
async def test_the_old_one_and_then_the_new_one(
    stand: Callable[..., Any], tmp_path: Path, size: tuple[int, int]
) -> None:
    async with stand(size) as at:
        at.app._then_and_now = lambda: two(tmp_path)
        await at.press("w", "k")
        await at.until(lambda: at.session.view().side_by_side is not None)
        at.app.screen.look()
        shown = await at.shown()
        assert "Now: even." in shown
        assert "volume" in shown
        await at.press("pagedown")
        assert "▶ 1  Sunday" in await sounds(at, 0)
        assert "▶ 2  Friday" in await sounds(at, 1)
        await sounds(at, None)
        await at.press("1")
        await sounds(at, 0)
        await at.press("escape", "escape")
        assert at.session.view().side_by_side is None
        assert at.session.view().stage is Stage.TODAY


async def test_from_the_end_and_why_not(stand: Callable[..., Any], tmp_path: Path) -> None:
    async with stand() as at:
        at.session.stop()
        await at.until(lambda: at.session.view().stage is Stage.ENDED)
        at.app._then_and_now = lambda: "Takes are not kept."
        await at.press("k")
        assert [one.message for one in at.app._notifications] == ["Takes are not kept."]
        at.app._then_and_now = lambda: two(tmp_path)
        await at.press("k")
        await at.until(lambda: at.session.view().side_by_side is not None)
        await at.press("2")
        await sounds(at, 1)
        at.port.lose("The loudspeaker is gone.")
        await at.until(lambda: at.session.view().side_by_side.sounding is None)
        at.port.come_back("It is back.")
        await at.press("2")
        await sounds(at, 1)
