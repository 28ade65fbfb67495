"""A session over a small routine, with the played-in flutist at a port without a device."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.session.rehearsed_ear import remember_what_is_heard
from trainer.app.open_session import open_session, planned_for
from trainer.app.paths import Paths, user_paths
from trainer.app.simulated_flutist import SimulatedFlutist
from trainer.coach.history import History
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.player.performance import Performance
from trainer.routine.load import load_routine
from trainer.session.beginning import Beginning, KeepTake, KeepTwo
from trainer.session.session import Session
from trainer.session.view import Stage, View
from trainer.sound.partner import Voice
from trainer.sound.simulated import SimulatedPort

DAY = date(2026, 3, 2)
NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
TICK_FRAMES = 2400

SMALL = """
title: Two rounds and a word
exercises:
  - scale: hill
    key: D
    range: one octave
    tempo: 96
    articulations: [slurred, single]
    words: Let it roll.
  - read: Breathe out slowly.
  - rest: 30 seconds
"""


class RehearsedFlutist(Flutist):
    """Plays again what it played before in any test, without making the sound anew.

    What is asked, the habits and the seed settle the sound (tests/player/test_truth.py).
    """

    def play(self, notes: Any, *asked: Any) -> Performance:
        return _played(self, tuple(notes), *asked)


@lru_cache(maxsize=24)
def _played(flutist: RehearsedFlutist, *asked: Any) -> Performance:
    performance = Flutist(flutist.habits, flutist.seed).play(*asked)
    performance.samples.flags.writeable = False
    return performance


@dataclass
class Practice:
    """A session, its port and its folder, with time in the test's hand."""

    session: Session
    port: SimulatedPort
    paths: Paths

    def view(self) -> View:
        return self.session.view()

    def pass_time(self, seconds: float) -> None:
        for _ in range(max(1, round(seconds * self.port.sample_rate_hz / TICK_FRAMES))):
            self.port.advance(TICK_FRAMES)
            self.session.tick()

    def until(self, stage: Stage, most_s: float = 120.0) -> View:
        """Let time pass until the session stands there."""
        for _ in range(round(most_s * self.port.sample_rate_hz / TICK_FRAMES)):
            if self.view().stage is stage:
                return self.view()
            self.pass_time(TICK_FRAMES / self.port.sample_rate_hz)
        raise AssertionError(f"still at {self.view().stage}, not at {stage}")

    def do(self, command: Callable[[], None]) -> View:
        command()
        self.session.tick()
        return self.view()

    def measures(self) -> dict[str, float]:
        """Of the last round, as they stand in the journal."""
        (text,) = self.journal_texts()
        measures: dict[str, float] = yaml.safe_load(text)["rounds"][-1]["measures"]
        return measures

    def journal_texts(self) -> list[str]:
        return [file.read_text() for file in sorted(self.paths.journal.glob("*.yaml"))]


@pytest.fixture
def practice_of(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Practice]:
    remember_what_is_heard(monkeypatch)

    def build(
        text: str = SMALL,
        habits: Habits | None = None,
        *,
        plays: bool = True,
        listens: bool = True,
        history: History | None = None,
        keep_take: KeepTake | None = None,
        keep_two: KeepTwo = lambda *_: None,
        voice: Voice | None = None,
        level_before_db: float | None = None,
    ) -> Practice:
        file = tmp_path / "routine.yaml"
        file.write_text(text)
        routine, problems = load_routine(file)
        assert routine is not None, problems
        paths = user_paths({"TRAINER_HOME": str(tmp_path / "home")})
        port = SimulatedPort(listens=listens)
        stand_in = SimulatedFlutist(RehearsedFlutist(habits or Habits(), seed=4), port)
        session = open_session(
            routine,
            planned_for(routine, DAY, ()),
            port,
            paths,
            Beginning(
                now=lambda: NOON,
                round_begins=stand_in.round_begins if plays else lambda _: None,
                history=history,
                keep_take=keep_take,
                keep_two=keep_two,
                voice=voice,
                level_before_db=level_before_db,
            ),
        )
        return Practice(session, port, paths)

    return build
