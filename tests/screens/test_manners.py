"""At any size, with the pedal alone, when the device goes, and wherever the student leaves."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import yaml

from tests.screens.conftest import ROUTINE
from tests.session.conftest import TICK_FRAMES
from tests.sweeps import mostly_slow, slow_but_for
from trainer.journal.from_teacher import send_note
from trainer.screens.week_screen import WeekScreen, headed
from trainer.session.view import Stage

Opened = Callable[..., Any]
SIZES = [(20, 6), (40, 12), (60, 20), (100, 24), (200, 60), (320, 100)]
QUICK_SIZES = [(20, 6), (60, 20), (320, 100)]
EVERYTHING = """
title: A bit of everything
words: Calmly.
exercises:
  - long tones: two calm notes
    notes: [G4, A4]
    beats each: 2
    tempo: 120
  - scale: hill
    key: E flat
    range: one octave
    tempo: 112
    articulations: [slurred, single]
  - speed climb: a little faster
    key: F
    range: one octave
    from: 100
    to: 112
    within: 0.5 minutes
  - read: Breathe out slowly.
  - rest: 30 seconds
"""
STAGES = [Stage.TODAY, Stage.READY, Stage.COUNT_IN, Stage.PLAYING, Stage.AFTER, Stage.REST]
QUICK_STAGES = [Stage.PLAYING, Stage.AFTER]
SOUNDING = (Stage.COUNT_IN, Stage.PLAYING, Stage.WEIGHING)
OVERLAYS = [("question_mark",), ("w",), ("e",), ("ctrl+p",)]


async def to_stage(at: Any, stage: Stage) -> str:
    """By the keys a student has, to the first time the session stands there."""
    for wanted in STAGES[1 : STAGES.index(stage) + 1]:
        if wanted in (Stage.READY, Stage.COUNT_IN):
            await at.press("pagedown")
        elif wanted is Stage.REST:
            await at.press("r")
        await at.until_stage(wanted)
    return str(await at.shown())


def kept_rounds(at: Any) -> int:
    return sum(
        len(yaml.safe_load(file.read_text())["rounds"]) for file in at.journal.glob("*.yaml")
    )


async def test_a_whole_routine_by_the_pedal_alone(stand: Opened) -> None:
    async with stand(text=EVERYTHING) as at:
        seen: set[Stage] = set()
        presses = 0
        while at.session.view().stage is not Stage.ENDED:
            stage = at.session.view().stage
            seen.add(stage)
            if stage in SOUNDING:
                await at.until(lambda: at.session.view().stage not in SOUNDING)
            else:
                await at.press("pagedown")
                presses += 1
            assert presses < 200
        assert seen >= {Stage.TODAY, Stage.READY, Stage.AFTER, Stage.READING, Stage.REST}
        exercises = [line for line in at.session.view().done if line.rounds]
        assert len(exercises) == 3
        assert kept_rounds(at) == sum(line.rounds for line in exercises) >= 4
        await at.press("pagedown")
        assert isinstance(at.app.screen, WeekScreen)


@pytest.mark.parametrize("size", slow_but_for(QUICK_SIZES, SIZES))
async def test_every_size_is_lived_with(stand: Opened, size: tuple[int, int]) -> None:
    async with stand(size) as at:
        for stage in STAGES:
            shown = await to_stage(at, stage) if stage is Stage.TODAY else await at.shown()
            assert shown.strip()
            assert all(len(line) <= size[0] for line in shown.splitlines())
            if stage is not Stage.REST:
                await next_stage(at, STAGES[STAGES.index(stage) + 1])
        await at.press("q")
        assert at.session.view().stage is Stage.ENDED
        assert kept_rounds(at) == 1


async def next_stage(at: Any, stage: Stage) -> None:
    if stage in (Stage.READY, Stage.COUNT_IN):
        await at.press("pagedown")
        while at.session.view().stage is Stage.TODAY:  # longer than the screen
            await at.press("pagedown")
    elif stage is Stage.REST:
        await at.press("r")
    await at.until_stage(stage)


@pytest.mark.parametrize("stage", slow_but_for(QUICK_STAGES, [*STAGES, Stage.ENDED]))
async def test_a_window_made_smaller_and_larger_shows_the_same(stand: Opened, stage: Stage) -> None:
    async with stand((80, 24)) as at:
        if stage is Stage.ENDED:
            await at.press("q")
            before = await at.shown()
        else:
            before = await to_stage(at, stage)
        for size in (*SIZES, (80, 24)):
            await at.pilot.resize_terminal(*size)
            await at.shown()
        assert await at.shown() == before


@pytest.mark.parametrize("stage", slow_but_for(QUICK_STAGES, STAGES))
async def test_a_device_that_goes_and_comes_back(stand: Opened, stage: Stage) -> None:
    async with stand() as at:
        await to_stage(at, stage)
        before = kept_rounds(at)
        at.port.lose("The sound device went away.")
        at.session.tick()
        assert "The sound device went away." in " ".join((await at.shown()).split())
        at.port.come_back("The sound is back.")
        at.session.tick()
        assert kept_rounds(at) >= before
        while at.session.view().stage is not Stage.COUNT_IN:
            if at.session.view().stage is not Stage.COUNT_IN:
                await at.press("pagedown")
        await at.until_stage(Stage.AFTER)
        assert kept_rounds(at) > before


@pytest.mark.parametrize(
    "where",
    mostly_slow(
        [
            *((stage, ()) for stage in STAGES),
            *((stage, keys) for stage in QUICK_STAGES for keys in OVERLAYS),
        ],
        7,
    ),
)
async def test_leaving_from_any_screen_loses_nothing(
    stand: Opened, where: tuple[Stage, tuple[str, ...]]
) -> None:
    """What may be opened over a screen asks nothing but whether a round sounds under it."""
    stage, opened = where
    async with stand() as at:
        await to_stage(at, stage)
        played = kept_rounds(at)
        await at.press(*opened)
        await at.press(*["escape"] * (len(opened) and opened != ("e",)))
        await at.press(*"qq" if stage in SOUNDING else "q")
        assert kept_rounds(at) == played == (stage in (Stage.AFTER, Stage.REST))
        if stage is Stage.TODAY:
            assert not at.app.is_running or at.app._exit
        else:
            assert at.session.view().stage is Stage.ENDED


async def test_closing_the_terminal_keeps_the_rounds(stand: Opened) -> None:
    async with stand() as at:
        await to_stage(at, Stage.AFTER)
        at.app.exit()
        await at.pilot.pause()
        assert kept_rounds(at) == 1


async def test_the_round_is_heard_again_and_at_half_speed(stand: Opened) -> None:
    async with stand() as at:
        assert "h hear" in await to_stage(at, Stage.AFTER)
        lengths = []
        for key in ("h", "l"):
            await at.press(key)
            lengths.append(at.session.view().seconds_left)
        assert lengths[1] > 1.5 * lengths[0] - at.session._walk._pause_s
        await at.press("pagedown")
        assert at.session.view().stage is Stage.COUNT_IN


async def test_how_the_session_felt_is_one_key_beside_the_remark(stand: Opened) -> None:
    async with stand() as at:
        await to_stage(at, Stage.AFTER)
        assert "How did it feel?" in await at.press("q")
        assert "It felt hard" in await at.press("3")
        await at.press("m")
        await at.press(*"cold3", "enter")
        (file,) = at.journal.glob("*.yaml")
        kept = yaml.safe_load(file.read_text())
        assert (kept["felt"], kept["remark"]) == ("hard", "cold3")


async def test_today_shows_what_the_teacher_sent(stand: Opened, tmp_path: Any) -> None:
    from datetime import UTC, datetime

    routine = tmp_path / "evening.yaml"
    routine.write_text(ROUTINE)
    folder = tmp_path / "home" / "journal"
    moment = datetime(2026, 2, 27, 18, tzinfo=UTC)
    send_note(folder, "Begin with the ladder.\nThen rest.", moment, routine)
    async with stand() as at:
        shown = await at.shown()
        assert "From your teacher" in shown
        assert "27 February: Begin with the ladder." in shown
        assert "sent the routine evening" in shown
        assert "PageDown to begin" in shown


async def test_no_round_counts_in_while_the_settings_lie_open(stand: Opened) -> None:
    async with stand() as at:
        await to_stage(at, Stage.AFTER)
        at.app.action_settings()
        await at.shown()
        for _ in range(300):
            at.port.advance(TICK_FRAMES)
            at.session.tick()
        assert at.session.view().stage is Stage.AFTER
        await at.press("escape")
        await at.until_stage(Stage.COUNT_IN)
        assert "◥◤" in await at.shown()


def test_a_heading_of_the_week_is_strong_and_what_stands_under_it_is_not() -> None:
    page = headed("4 of 7 days\n\nTrouble spots\n  C5-D5 went wrong")
    assert [page.plain[each.start : each.end] for each in page.spans] == ["Trouble spots"]
