"""Pausing, going back, going by number, another routine: by the pedal and by the keyboard."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.screens.test_manners import kept_rounds
from tests.sweeps import mostly_slow
from trainer.app.other_routines import OWN, SHIPPED, chosen_routine, routines_offered
from trainer.app.paths import user_paths
from trainer.routine.model import Routine
from trainer.screens.app import OtherRoutines
from trainer.session.view import Stage

Opened = Callable[..., Any]
ELEVEN = "title: Eleven\nexercises:\n" + "".join(
    f"  - scale: number {number}\n    key: C\n    range: one octave\n    tempo: 112\n"
    for number in range(1, 12)
)


async def test_a_pedal_of_two_switches_pauses_goes_on_and_goes_back(stand: Opened) -> None:
    async with stand(text=ELEVEN) as at:
        await at.press("g", "3")  # no longer number can be meant
        assert "3 of 11" in await at.shown()
        await at.press("pagedown")
        await at.until_stage(Stage.PLAYING)
        await at.until(lambda: len(at.session.view().live_notes) > 1)
        paused = await at.press("pageup")
        assert "Paused." in paused
        assert "PageDown counts in   PageUp the exercise before   g one by its number" in paused
        assert kept_rounds(at) == 1
        await at.press("pagedown")
        assert at.session.view().stage is Stage.COUNT_IN
        await at.until_stage(Stage.AFTER)
        assert "2 of 11" in await at.press("pageup")
        assert kept_rounds(at) == 2


async def test_numbers_of_two_digits_arrows_and_a_round_that_sounds(stand: Opened) -> None:
    async with stand(text=ELEVEN) as at:
        listed = await at.press("g")
        assert "-> " in listed
        assert "11  C major" in listed
        await at.press("1")  # 1, 10 or 11
        assert at.session.view().stage is Stage.TODAY
        assert "11 of 11" in await at.press("1")
        await at.press("pagedown")
        await at.until_stage(Stage.PLAYING)
        await at.press("g")
        assert at.session.view().stage is Stage.PAUSED
        assert "Paused." in await at.press("escape")
        await at.press("g")
        await at.press("up", "enter")
        assert "10 of 11" in await at.shown()


async def test_the_pause_after_a_round_says_that_it_waits(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown", "pagedown")
        await at.press("pagedown")
        await at.until_stage(Stage.AFTER)
        await at.press("p")
        assert at.session.view().stands_still
        await at.press("r")
        assert "p stops the clock" in await at.shown()
        assert "p starts the clock" in await at.press("p")
        assert "Breathe out slowly." in await at.press("n")


async def test_another_routine_is_chosen_inside_and_a_broken_one_says_what_is_wrong(
    stand: Opened, tmp_path: Path
) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path / "home")})
    paths.routines.mkdir(parents=True)
    (paths.routines / "evening.yaml").write_text(f"# Short and calm.\n{ELEVEN}")
    (paths.routines / "broken.yaml").write_text("title: Broken\nexercises: [\n")
    offered = routines_offered(paths)
    assert [(each.title, each.whose) for each in offered[:2]] == [("Broken", OWN), ("Eleven", OWN)]
    assert {each.whose for each in offered[2:]} == {SHIPPED}
    assert len(offered) > 15
    async with stand() as at:
        at.app._others = OtherRoutines(lambda: offered, chosen_routine)
        await at.press("pagedown")
        await at.press("pagedown")
        await at.until_stage(Stage.PLAYING)
        await at.until(lambda: len(at.session.view().live_notes) > 1)
        shown = await at.press("o")
        assert "Your own" in shown
        assert "With the trainer" in shown
        assert "line 3" in await at.press("enter")
        assert at.session.view().stage is Stage.PAUSED
        assert "Short and calm." in await at.press("down")
        await at.pilot.press("enter")
        await at.pilot.pause()
        at.session.tick()
        chosen = at.app.return_value
        assert isinstance(chosen, Routine)
        assert chosen.title == "Eleven"
        assert at.session.view().stage is Stage.ENDED
        assert kept_rounds(at) == 1


@pytest.mark.parametrize("size", mostly_slow([(80, 24), (40, 12)], 1))
async def test_an_invented_flutist_is_announced_on_every_screen(
    stand: Opened, size: tuple[int, int]
) -> None:
    said = "An invented flutist plays"
    async with stand(size) as at:
        at.app.announcement = said
        if size[0] == 80:
            assert "Settings" in (await at.shown()).splitlines()[-1], "every key has room"
        for key in ("s", "w", "m", "question_mark", "g", "t", "c", "k"):
            assert said in (await at.press(key)).splitlines()[0]
            await at.press("escape")
        for stage in (Stage.READY, Stage.COUNT_IN, Stage.AFTER, Stage.REST, Stage.ENDED):
            if stage in (Stage.READY, Stage.COUNT_IN):
                while at.session.view().stage is not stage:
                    await at.press("pagedown")
            else:
                await at.press({Stage.REST: "r", Stage.ENDED: "q"}.get(stage, "f1"))
                await at.press("escape" if stage is Stage.AFTER else "f2")
            await at.until_stage(stage)
            assert said in (await at.shown()).splitlines()[0]
