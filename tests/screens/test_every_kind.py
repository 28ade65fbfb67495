"""Every kind of exercise in the terminal, played in, from a shipped routine."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from trainer.coach.advice import Topic
from trainer.routine.round import RoundKind
from trainer.session.view import Stage

Opened = Callable[..., Any]
ROUTINES = Path(__file__).parents[2] / "routines"
LONG_NOTES = (("beats each: 8", "beats each: 4"), ("beats each: 3", "beats each: 1"))


def shipped(name: str) -> str:
    """A routine of ours with notes held half as long or less: each kind is the kind it was."""
    text = (ROUTINES / name).read_text()
    for beats, fewer in LONG_NOTES:
        text = text.replace(beats, fewer)
    return text


SOUND, BUSY = shipped("sound_and_breath.yaml"), shipped("busy_day.yaml")
HEARD = {
    RoundKind.SETTLING: "let them stand",
    RoundKind.SWELLS: "grow and come back",
    RoundKind.VIBRATO: "pulses",
    RoundKind.VOICING: "low, middle and high",
    RoundKind.COLOURS: "two colours",
    RoundKind.TRILLS: "little fingers",
    RoundKind.BREATH: "on one breath",
    RoundKind.CLIMB: "one octave",
}


ALSO_HEARD = {
    RoundKind.LONG_TONES: (BUSY, "open the sound"),
    RoundKind.TECHNIQUE: (BUSY, "full range"),
    RoundKind.PASSAGE: (SOUND.replace("    settle: 1 second\n", ""), "let them stand"),
}


async def to_kind(at: Any, kind: RoundKind) -> None:
    """Through a Today longer than the screen, then to the first exercise of the kind."""
    while at.session.view().stage is Stage.TODAY:
        await at.press("pagedown")
    for _ in range(30):
        view = at.session.view()
        if view.round is not None and view.round.kind is kind:
            return
        at.session.skip()
        at.session.tick()
    raise AssertionError(f"no {kind} in this routine")


@pytest.mark.slow
@pytest.mark.parametrize("kind", [*HEARD, *ALSO_HEARD])
async def test_each_kind_is_played_and_answered(stand: Opened, kind: RoundKind) -> None:
    routine, title = ALSO_HEARD.get(kind) or (SOUND, HEARD[kind])
    async with stand((120, 40), routine) as at:
        await to_kind(at, kind)
        assert title in await at.shown()
        await at.press("pagedown")
        assert title in await at.until_stage(Stage.PLAYING)
        after = await at.until_stage(Stage.AFTER)
        advice = at.session.view().advice
        assert advice is not None
        assert advice.sentence.split()[0] in after
        assert at.session.view().take is not None


async def test_a_settling_note_is_waited_for(stand: Opened) -> None:
    async with stand((80, 24), SOUND) as at:
        await to_kind(at, RoundKind.SETTLING)
        assert "untimed" in await at.shown()
        await at.press("pagedown")
        await at.until(lambda: getattr(at.session.view().standing, "share", 0) > 0.3)
        shown = await at.shown()
        assert "hold it" in shown
        assert at.session.view().note_due == 0
        await at.until(lambda: at.session.view().note_due == 1)
        await at.press("pagedown")  # on to the next without waiting
        assert at.session.view().note_due == 2


async def test_what_is_asked_of_the_sound_stands_in_the_title(stand: Opened) -> None:
    async with stand((80, 24), SOUND) as at:
        await to_kind(at, RoundKind.VIBRATO)
        assert "straight tone" in await at.shown()


async def test_one_key_says_that_the_student_heard_it_otherwise(stand: Opened) -> None:
    strict = "title: A\nexercises: [{scale: hill, key: E flat, tempo: 112, aims: {evenness: 9 ms}}]"
    async with stand((80, 24), strict) as at:
        await at.press("pagedown")
        await at.press("pagedown")
        await at.until_stage(Stage.AFTER)
        said = at.session.view().advice
        assert said is not None
        assert said.topic not in (Topic.SECURE, Topic.SOUND)
        shown = await at.press("d")
        assert "Noted: you heard it differently." in shown
        assert at.session.view().advice is not said
