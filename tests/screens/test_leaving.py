"""Leaving from every screen with nothing lost, and another size in the middle of every exercise."""

from __future__ import annotations

import signal
from collections.abc import Awaitable, Callable
from typing import Any

import pytest
import yaml
from textual.drivers.headless_driver import HeadlessDriver

from tests.screens.test_every_kind import ALSO_HEARD, HEARD, SOUND, to_kind
from tests.sweeps import mostly_slow
from trainer.routine.round import RoundKind
from trainer.screens.after_screen import AfterScreen
from trainer.screens.appearance import NO_SHELL
from trainer.screens.help_screen import HelpScreen
from trainer.screens.settings_screen import SettingsScreen
from trainer.screens.week_screen import WeekScreen
from trainer.session.beginning import PAUSE_AFTER_ROUND_S
from trainer.session.view import SOUNDING, Stage

Opened = Callable[..., Any]
Way = Callable[[Any], Awaitable[object]]
SIZES = ((60, 20), (120, 40), (40, 12), (200, 60), (80, 24))


async def one_round(at: Any) -> None:
    await at.press("pagedown")
    await at.press("pagedown")
    await at.until_stage(Stage.AFTER)


async def after(at: Any) -> None:
    await one_round(at)


async def ready(at: Any) -> None:
    await one_round(at)
    await at.press("r")
    await at.press("pagedown")
    assert at.session.view().stage is Stage.READY


async def counting_in(at: Any) -> None:
    await one_round(at)
    await at.press("pagedown")
    await at.until_stage(Stage.COUNT_IN)


async def playing(at: Any) -> None:
    await counting_in(at)
    await at.until(lambda: (at.session.view().beat or -9) > 1)


async def resting(at: Any) -> None:
    await one_round(at)
    await at.press("r")


async def reading(at: Any) -> None:
    await one_round(at)
    await at.press("n")
    assert at.session.view().stage is Stage.READING


async def ended(at: Any) -> None:
    await one_round(at)
    await at.press("q")


async def in_help(at: Any) -> None:
    await one_round(at)
    await at.press("question_mark")
    assert isinstance(at.app.screen, HelpScreen)


async def in_the_week(at: Any) -> None:
    await one_round(at)
    await at.press("w")
    assert isinstance(at.app.screen, WeekScreen)


async def in_the_settings(at: Any) -> None:
    await one_round(at)
    at.app.action_settings()
    await at.press("down")
    assert isinstance(at.app.screen, SettingsScreen)


async def with_figures(at: Any) -> None:
    await one_round(at)
    await at.press("e")


EVERYWHERE: tuple[Way, ...] = (
    after,
    ready,
    counting_in,
    playing,
    resting,
    reading,
    ended,
    in_help,
    in_the_week,
    in_the_settings,
    with_figures,
)


def kept_rounds(at: Any) -> list[dict[str, Any]]:
    (file,) = at.journal.glob("*.yaml")
    kept = yaml.safe_load(file.read_text())
    assert "ended" in kept
    return list(kept["rounds"])


@pytest.mark.parametrize("way", mostly_slow(EVERYWHERE, 2))
async def test_leaving_the_program_keeps_the_round_played(stand: Opened, way: Way) -> None:
    async with stand() as at:
        await way(at)
        await at.pilot.press("ctrl+q")
        await at.pilot.pause()
        assert not at.app.is_running or at.app._exit
        at.session.stop()  # as `practise.ticking` does on the way out
        at.session.tick()
        assert len(kept_rounds(at)) == 1


@pytest.fixture
def stops(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, int]]:
    """Signals sent; none is. A driver that can be suspended, in a group of its own, as a shell with
    job control starts one."""
    sent: list[tuple[int, int]] = []
    monkeypatch.setattr(HeadlessDriver, "can_suspend", True, raising=False)
    monkeypatch.setattr("trainer.screens.appearance.os.kill", lambda *told: sent.append(told))
    monkeypatch.setattr("trainer.screens.appearance.os.getpgrp", lambda: 2)
    monkeypatch.setattr("trainer.screens.appearance.os.getsid", lambda _: 1)
    return sent


@pytest.mark.parametrize("way", mostly_slow((playing, counting_in, after, in_help), 1))
async def test_ctrl_z_stops_all_that_runs_once_nothing_sounds(
    stand: Opened, stops: list[tuple[int, int]], way: Way
) -> None:
    async with stand() as at:
        await way(at)
        sounded = at.session.view().stage in SOUNDING
        await at.pilot.press("ctrl+z")
        at.app.look()
        assert len(stops) == (not sounded), "while it sounds it goes on"
        at.session.tick()
        for _ in range(3):
            at.app.look()
        assert stops == [(0, signal.SIGTSTP)]
        assert (at.session.view().stage is Stage.PAUSED) is sounded


@pytest.mark.usefixtures("stops")
async def test_no_round_counts_in_by_itself_on_the_way_back_from_the_shell(
    stand: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with stand() as at:
        await one_round(at)
        away = round(2 * PAUSE_AFTER_ROUND_S * at.port.sample_rate_hz)
        monkeypatch.setattr("trainer.screens.appearance.os.kill", lambda *_: at.port.advance(away))
        await at.press("ctrl+z")
        at.app.look()
        at.session.tick()
        view = at.session.view()
        assert view.stage is Stage.AFTER
        assert view.seconds_left == pytest.approx(PAUSE_AFTER_ROUND_S)


async def test_ctrl_z_stops_nothing_where_no_shell_could_have_it_go_on(
    stand: Opened, stops: list[tuple[int, int]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trainer.screens.appearance.os.getsid", lambda _: 2)
    async with stand() as at:
        await at.press("ctrl+z")
        assert [told.message for told in at.app._notifications] == [NO_SHELL]
    assert not stops


@pytest.mark.parametrize("way", mostly_slow(EVERYWHERE, 2))
async def test_q_leads_out_of_every_screen(stand: Opened, way: Way) -> None:
    """Back from what lies on top, then to the end, then away: three times q from anywhere."""
    async with stand() as at:
        await way(at)
        for _ in range(3):
            if not at.app._exit:
                await at.pilot.press("q")
                await at.pilot.pause()
                at.session.tick()
        assert at.app._exit
        assert len(kept_rounds(at)) == 1


async def test_settings_changed_before_leaving_are_kept(stand: Opened) -> None:
    kept: list[Any] = []
    async with stand() as at:
        at.app._keep_settings = kept.append
        await one_round(at)
        at.app.action_settings()
        await at.press("down", "down", "right")
        await at.pilot.press("ctrl+q")
        await at.pilot.pause()
    assert [settings.note_names for settings in kept] == [at.app.settings.note_names]
    assert kept[0] != type(kept[0])()


async def test_settings_left_by_q_lead_back_to_where_one_was(stand: Opened) -> None:
    async with stand() as at:
        await in_the_settings(at)
        await at.press("q")
        assert isinstance(at.app.screen, AfterScreen)
        assert at.session.view().stage is Stage.AFTER


@pytest.mark.slow
@pytest.mark.parametrize("kind", [*HEARD, *ALSO_HEARD])
async def test_another_size_in_the_middle_of_each_kind(stand: Opened, kind: RoundKind) -> None:
    routine, title = ALSO_HEARD.get(kind) or (SOUND, HEARD[kind])
    async with stand((80, 24), routine) as at:
        await to_kind(at, kind)
        await at.press("pagedown")
        await at.until(lambda: at.session.view().stage is Stage.PLAYING)
        before = await at.shown()
        for width, height in SIZES:
            await at.pilot.resize_terminal(width, height)
            shown = await at.shown()
            assert len(shown.splitlines()) <= height
        assert shown == before
        assert title in shown
        after = await at.until_stage(Stage.AFTER)
        for width, height in SIZES:
            await at.pilot.resize_terminal(width, height)
            assert len((await at.shown()).splitlines()) <= height
        assert (await at.shown()) == after
