"""The look at the microphone on the screen and in lines."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from trainer.app.microphone_policy import NEW
from trainer.music.names import NoteNames
from trainer.screens.lines import Teller
from trainer.session.microphone_check import WORDS, CheckAsked
from trainer.session.view import CheckStep, Stage


def ask(session: Any) -> None:
    session._walk._first_look.asked = CheckAsked(NEW, lambda _: None)


async def test_it_says_why_and_what_to_do_and_pagedown_goes_past_it(
    stand: Callable[..., Any],
) -> None:
    async with stand((80, 24)) as at:
        ask(at.session)
        shown = " ".join((await at.press("pagedown")).split())
        assert WORDS[CheckStep.QUIET] in shown
        assert "This microphone is new here" in shown
        assert "PageDown skips it" in shown
        await at.press("pagedown")
        assert at.session.view().stage is Stage.READY


async def test_in_lines_each_step_is_told_once(stand: Callable[..., Any]) -> None:
    async with stand((80, 24)) as at:
        ask(at.session)
        at.session.advance()
        at.session.tick()
        teller = Teller(NoteNames())
        lines = teller.tell(at.session.view())
        assert lines == [NEW, WORDS[CheckStep.QUIET], "Space skips it."]
        assert teller.tell(at.session.view()) == []
        await at.until(lambda: at.session.view().sound_check.step is CheckStep.SOFT)
        assert teller.tell(at.session.view()) == [WORDS[CheckStep.SOFT]]
