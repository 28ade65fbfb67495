"""Pictures of every screen, from a seeded session: `python demo/gallery.py FOLDER`."""

from __future__ import annotations

import asyncio
import os
import re
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from practise import loaded
from weeks import STUDENT, write_weeks

from trainer.journal.week import week
from trainer.journal.week_text import week_text
from trainer.paths import Paths, user_paths
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES
from trainer.practise import (
    SHIPPED_ROUTINES,
    TWO_WEEKS,
    open_session,
    planned_for,
    remembered_sessions,
)
from trainer.routine.model import Routine
from trainer.screens.app import TrainerApp
from trainer.session import Session, Stage, View
from trainer.sound.simulated import SimulatedPort
from trainer.stand_in import StandIn

SIZES = ((80, 24), (120, 40))
DAY = date(2026, 3, 6)
MORNING = datetime(2026, 3, 6, 7, 30, tzinfo=UTC)
TICK_FRAMES = 2400
PLAYED_BEATS = 2.6
COUNTED_BEATS = -1.6
HOME_SHOWN = "~/flute-practice"
"""As long as the name of a temporary folder, so that the picture's text keeps its width."""

GALLERY_ROUTINE = """
title: Before breakfast
words: Sound first, then fingers.
exercises:
  - scale: scale of the day
    key: E flat
    tempo: 72
    articulations: [slurred, double]
    aims: {cents: 15, evenness: 25 ms, clean: 95 %}
    words: The same sound in both. Only the tongue changes.
  - speed climb: a little faster
    key: same as scale of the day
    range: one octave
    from: 72
    to: 96
    within: 2 minutes
    words: Stop where it is still easy.
  - read: Breathe in low and easy, and stop while there is still air left.
  - rest: 2 minutes
"""


class Studio:
    """A session whose time is in our hand."""

    def __init__(self, folder: Path) -> None:
        self.paths = user_paths({"TRAINER_HOME": str(folder)})
        write_weeks(_shipped("busy_day.yaml"), self.paths, DAY)
        file = folder / "before_breakfast.yaml"
        file.write_text(GALLERY_ROUTINE)
        routine = loaded(file)
        self.port = SimulatedPort()
        stand_in = StandIn(Flutist(EXAMPLES["student"], seed=3), self.port)
        self.session: Session = open_session(
            routine,
            planned_for(routine, DAY, ()),
            self.port,
            self.paths,
            now=lambda: MORNING,
            student=STUDENT,
            round_begins=stand_in.round_begins,
        )

    def until(self, reached: Callable[[View], bool]) -> None:
        """Let time pass until the session is there."""
        while not reached(self.session.view()):
            self.port.advance(TICK_FRAMES)
            self.session.tick()

    def do(self, command: Callable[[], None]) -> None:
        """Give the session a command."""
        command()
        self.session.tick()

    def week(self) -> str:
        """The week as the app shows it."""
        return _week(self.paths)


def _week(paths: Paths) -> str:
    sessions, _ = remembered_sessions(paths, DAY - TWO_WEEKS, DAY)
    return week_text(week(sessions, DAY))


def _shipped(name: str) -> Routine:
    return loaded(SHIPPED_ROUTINES / name)


async def photograph(folder: Path, size: tuple[int, int], home: Path, theme: str = "") -> None:
    """One picture of every screen at one size."""
    studio = Studio(home)
    session = studio.session
    app = TrainerApp(session, studio.week)
    async with app.run_test(size=size) as pilot:
        if theme:
            app.theme = theme

        async def picture(name: str) -> None:
            for _ in range(3):
                app.look()
                await pilot.pause()
            svg = app.export_screenshot(title=app.TITLE)
            shown = re.sub(r"terminal-\d+", "terminal", svg.replace(str(home), HOME_SHOWN))
            tail = f"-{theme.removeprefix('textual-')}" if theme else ""
            tail += "-no-colour" if app.no_color else ""
            (folder / f"{name}-{size[0]}x{size[1]}{tail}.svg").write_text(shown)

        await picture("today")
        studio.do(session.advance)
        await picture("ready")
        studio.do(session.advance)
        studio.until(lambda view: view.beat is not None and view.beat > COUNTED_BEATS)
        await picture("count-in")
        studio.until(lambda view: view.beat is not None and view.beat > PLAYED_BEATS)
        await picture("playing")
        studio.until(lambda view: view.stage is Stage.AFTER)
        await picture("after")
        await pilot.press("e")
        await picture("figures")
        await pilot.press("question_mark")
        await pilot.pause()
        await picture("help")
        await pilot.press("escape")
        await pilot.press("e")
        studio.do(session.skip)
        studio.do(session.advance)
        studio.until(lambda view: view.stage is Stage.AFTER)
        studio.do(session.advance)
        studio.until(lambda view: view.stage is Stage.AFTER and len(view.tempos) > 0)
        await picture("climb")
        studio.do(session.skip)
        await picture("reading")
        studio.do(session.advance)
        await picture("rest")
        studio.do(session.stop)
        await picture("end")
        await pilot.press("pagedown")
        await pilot.pause()
        await picture("week")


def main() -> None:
    """Every screen at both sizes, once in a light theme and once without colour."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for size in SIZES:
        with TemporaryDirectory() as home:
            asyncio.run(photograph(folder, size, Path(home)))
    with TemporaryDirectory() as home:
        asyncio.run(photograph(folder, SIZES[0], Path(home), theme="textual-light"))
    os.environ["NO_COLOR"] = "1"
    with TemporaryDirectory() as home:
        asyncio.run(photograph(folder, SIZES[0], Path(home)))


if __name__ == "__main__":
    main()
