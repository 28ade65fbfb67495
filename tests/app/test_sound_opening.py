"""The sound opens behind Today; what is pressed meanwhile is done once it is there."""

from __future__ import annotations

import time
from contextlib import redirect_stderr
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from threading import Event

import pytest
from textual.pilot import Pilot

from tests.session.conftest import DAY, SMALL, TICK_FRAMES
from trainer.app.morning import morning_of
from trainer.app.open_session import OWN_FAULT, TICK_S, ticking
from trainer.app.paths import Paths, user_paths
from trainer.app.practice_ready import PracticeReady
from trainer.app.sound_opening import SoundOpening
from trainer.errors import SoundError
from trainer.routine.load import read_routine
from trainer.screens.app import TrainerApp
from trainer.screens.today_screen import AWAITED
from trainer.session.session import Session
from trainer.session.view import Stage
from trainer.session.walk import Walk
from trainer.sound.simulated import SimulatedPort

OPENS_AFTER_S = 5.0


class SlowPort(SimulatedPort):
    """A device that takes five seconds to open."""

    waited_s = 0.0
    closed = False

    @property
    def alive(self) -> bool:
        return self.waited_s >= OPENS_AFTER_S

    def close(self) -> None:
        self.closed = True


@dataclass
class Opened:
    session: Session
    opening: SoundOpening[PracticeReady]
    port: SlowPort
    paths: Paths
    may_load: Event

    def loaded(self) -> None:
        """All is loaded; the device may still be opening."""
        self.may_load.set()
        self.opening._thread.join()

    def pass_time(self, seconds: float) -> None:
        for _ in range(round(seconds * self.port.sample_rate_hz / TICK_FRAMES)):
            self.port.waited_s += TICK_FRAMES / self.port.sample_rate_hz
            self.port.advance(TICK_FRAMES)
            self.session.tick()


@pytest.fixture
def opened(tmp_path: Path) -> Opened:
    routine, problems = read_routine(SMALL, "small.yaml")
    assert routine is not None, problems
    paths = user_paths({"TRAINER_HOME": str(tmp_path / "home")})
    port, may_load = SlowPort(), Event()
    morning = morning_of(routine, paths, DAY)

    def make_ready() -> PracticeReady:
        may_load.wait()
        return PracticeReady(paths, port, lambda _: None, ())

    def begin() -> Walk | None:
        ready = opening.opened()
        return None if ready is None else ready.walk(morning)

    opening = SoundOpening(make_ready)
    return Opened(Session(morning.view, begin), opening, port, paths, may_load)


async def shown(app: TrainerApp, pilot: Pilot[None]) -> str:
    app.look()
    await pilot.pause()
    return "\n".join(strip.text for strip in app.screen._compositor.render_strips())


async def test_today_is_there_first_and_pagedown_begins_once_the_sound_is_open(
    opened: Opened,
) -> None:
    session = opened.session
    app = TrainerApp(session, str, painted=opened.opening.begin)
    async with app.run_test() as pilot:
        await pilot.pause()
        today = await shown(app, pilot)
        assert "Two rounds and a word" in today
        assert "PageDown to begin" in today
        await pilot.press("pagedown")
        session.tick()
        assert AWAITED in await shown(app, pilot)
        await pilot.press("pagedown")  # out of impatience: it begins once, not twice
        opened.loaded()
        opened.pass_time(OPENS_AFTER_S - 0.1)
        assert session.view().stage is Stage.TODAY
        assert AWAITED in await shown(app, pilot)
        opened.pass_time(0.2)
        assert session.view().stage is Stage.READY
        assert AWAITED not in await shown(app, pilot)
        opened.pass_time(1.0)
        assert session.view().stage is Stage.READY


def test_nothing_is_opened_before_the_first_screen_is_painted(opened: Opened) -> None:
    opened.may_load.set()
    opened.session.tick()
    assert not opened.opening._thread.is_alive()
    assert opened.session.view().stage is Stage.TODAY


def test_without_a_key_today_stays_and_says_what_is_known(opened: Opened) -> None:
    before = opened.session.view()
    opened.opening.begin()
    opened.loaded()
    opened.pass_time(OPENS_AFTER_S + 1)
    after = opened.session.view()
    assert after.stage is Stage.TODAY
    assert (before.today, before.notices, before.words, before.done, before.listens) == (
        after.today, after.notices, after.words, after.done, after.listens,
    )  # fmt: skip
    assert not before.awaits_sound
    assert not after.awaits_sound


def test_who_leaves_before_the_sound_is_open_leaves_nothing_behind(opened: Opened) -> None:
    with ticking(opened.session):
        opened.opening.begin()
        opened.session.advance()
    opened.loaded()
    opened.opening.close()
    assert opened.port.closed
    assert opened.session.view().stage is Stage.TODAY
    assert not list(opened.paths.journal.glob("*.yaml"))


def test_who_leaves_before_anything_was_painted_waits_for_nothing(opened: Opened) -> None:
    opened.opening.close()
    assert not opened.port.closed


def test_a_device_that_goes_again_is_the_walks_to_see_to(opened: Opened) -> None:
    opened.opening.begin()
    opened.loaded()
    opened.pass_time(OPENS_AFTER_S + 1)
    opened.port.waited_s = 0.0
    assert opened.opening.opened() is not None


def test_what_can_not_be_made_ready_is_told_once() -> None:
    def broken() -> PracticeReady:
        raise SoundError("nothing works here")

    opening = SoundOpening(broken)
    opening.begin()
    opening._thread.join()
    with pytest.raises(SoundError, match="nothing works here"):
        opening.opened()
    opening.close()


def test_a_fault_of_ours_before_the_first_round_is_told_on_today(
    opened: Opened, capfd: pytest.CaptureFixture[str]
) -> None:
    asked = 0

    def begin() -> Walk | None:
        nonlocal asked
        asked += 1
        if asked == 1:  # as the session is made, when nothing is ready yet
            return None
        raise ValueError("planted")

    session = Session(opened.session.view(), begin)
    with redirect_stderr(StringIO()), ticking(session):  # as Textual has it while a screen runs
        while OWN_FAULT not in session.view().notices:
            time.sleep(TICK_S)
    assert session.view().notices.count(OWN_FAULT) == 1
    assert capfd.readouterr().err.count("ValueError: planted") == 1
