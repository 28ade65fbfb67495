"""A teacher's fifty wishes, each begun in the terminal and answered."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.routine.test_forty_wishes import WISHES as FORTY
from tests.routine.test_forty_wishes import written
from tests.routine.test_wishes import WISHES
from tests.sweeps import slow_but_for
from trainer.session.view import Stage

Opened = Callable[..., Any]


QUICK = list(WISHES)[1:2]
ALL = WISHES | {wish.sentence: written(wish) for wish in FORTY}


@pytest.mark.parametrize("wish", slow_but_for(QUICK, ALL))
async def test_a_wish_is_played_and_answered(stand: Opened, wish: str) -> None:
    async with stand((80, 24), ALL[wish]) as at:
        for _ in range(4):  # past what is to be read
            if at.session.view().stage is Stage.READY and at.session.view().round is not None:
                break
            await at.press("pagedown")
        round_ = at.session.view().round
        assert round_ is not None
        await at.press("pagedown")
        await at.until_stage(Stage.PLAYING)
        await at.until_stage(Stage.AFTER)
        if round_.manner.unjudged is not None:
            return
        assert at.session.view().advice is not None
        assert at.session.view().take is not None
