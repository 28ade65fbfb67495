"""The app over a real session whose time is in the test's hand."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from textual.pilot import Pilot

from demo.worked_off import pilots_without_a_clock
from tests.session.conftest import NOON, TICK_FRAMES, RehearsedFlutist, practice_of
from tests.session.rehearsed_ear import remember_what_is_heard
from trainer.app.open_session import open_session, planned_for
from trainer.app.paths import user_paths
from trainer.app.simulated_flutist import SimulatedFlutist
from trainer.player.habits import EXAMPLES
from trainer.routine.load import load_routine
from trainer.screens.app import TrainerApp
from trainer.screens.beside_screen import BesideScreen
from trainer.screens.shelf_screen import ShelfScreen
from trainer.session.beginning import Beginning
from trainer.session.session import Session
from trainer.session.view import Stage
from trainer.sound.simulated import SimulatedPort

__all__ = ["practice_of"]

ROUTINE = """
title: A short one
words: Play as you like.
exercises:
  - scale: hill
    key: E flat
    range: two octaves
    tempo: 112
    articulations: [slurred, double]
    words: Let it roll.
  - read: Breathe out slowly.
  - rest: 30 seconds
"""
WEEK = "\n".join(["The week", *(f"line {number}" for number in range(60))])
MOST_TICKS = 4000


@dataclass
class Stand:
    """The app on its stand: the session, its port and the pilot that presses keys."""

    session: Session
    port: SimulatedPort
    app: TrainerApp
    pilot: Pilot[None]
    journal: Path

    async def shown(self) -> str:
        """What is on the screen now, as plain text."""
        for _ in range(3):
            self._look()
            await self.pilot.pause()
        width = self.app.size.width
        rows = self.app.screen._compositor.render_strips()
        return "\n".join(strip.text[:width].rstrip() for strip in rows)

    def _look(self) -> None:
        """As their timers do a moment later."""
        self.app.look()
        if self.app.screen_stack and isinstance(self.app.screen, BesideScreen | ShelfScreen):
            self.app.screen.look()

    async def press(self, *keys: str) -> str:
        await self.pilot.press(*keys)
        await self.pilot.pause()
        self._look()
        self.session.tick()
        return await self.shown()

    async def until(self, reached: Callable[[], bool]) -> str:
        for _ in range(MOST_TICKS):
            if reached():
                return await self.shown()
            self.port.advance(TICK_FRAMES)
            self.session.tick()
        raise AssertionError(f"still at {self.session.view().stage}")

    async def until_stage(self, stage: Stage) -> str:
        return await self.until(lambda: self.session.view().stage is stage)


@pytest.fixture(autouse=True)
def pilot_that_looks_at_no_clock(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Its resizing too waits by the clock."""
    resize_terminal = Pilot.resize_terminal

    async def resized(pilot: Pilot[None], width: int, height: int) -> None:
        await resize_terminal(pilot, width, height)
        pilot.app._check_resize()  # else on a timer, which gathers sizes for 1/120 s
        await pilot.pause()

    monkeypatch.setattr(Pilot, "resize_terminal", resized)
    with pilots_without_a_clock():
        yield


@pytest.fixture
def stand(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., object]:
    remember_what_is_heard(monkeypatch)

    @asynccontextmanager
    async def opened(
        size: tuple[int, int] = (80, 24),
        text: str = ROUTINE,
        *,
        listens: bool = True,
        notices: tuple[str, ...] = (),
    ) -> AsyncIterator[Stand]:
        file = tmp_path / "routine.yaml"
        file.write_text(text)
        routine, problems = load_routine(file)
        assert routine is not None, problems
        paths = user_paths({"TRAINER_HOME": str(tmp_path / "home")})
        port = SimulatedPort(listens=listens)
        stand_in = SimulatedFlutist(RehearsedFlutist(EXAMPLES["student"], seed=5), port)
        session = open_session(
            routine,
            planned_for(routine, NOON.date(), ()),
            port,
            paths,
            Beginning(now=lambda: NOON, round_begins=stand_in.round_begins, notices=notices),
        )
        app = TrainerApp(session, lambda: WEEK)
        async with app.run_test(size=size) as pilot:
            yield Stand(session, port, app, pilot, paths.journal)

    return opened
