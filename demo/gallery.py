"""Pictures of every screen, from a seeded session: `python demo/gallery.py FOLDER`."""

from __future__ import annotations

import asyncio
import os
import re
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from practise import loaded
from weeks import STUDENT, write_weeks

from trainer.coach.history import History, OldKnot
from trainer.first_morning import FirstMorning
from trainer.journal.week import week
from trainer.journal.week_text import week_text
from trainer.music.names import Language
from trainer.music.pitch import Pitch
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
from trainer.routine.round import RoundKind
from trainer.screens.app import TrainerApp
from trainer.screens.first_morning import FirstMorningApp
from trainer.session import Session, Stage, View
from trainer.settings import PLAIN, Settings
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

    def __init__(self, folder: Path, routine: Routine, history: History | None = None) -> None:
        self.paths = user_paths({"TRAINER_HOME": str(folder)})
        write_weeks(_shipped("busy_day.yaml"), self.paths, DAY)
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
            history=history,
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


def _gallery_routine(home: Path) -> Routine:
    file = home / "before_breakfast.yaml"
    file.write_text(GALLERY_ROUTINE)
    return loaded(file)


KINDS = {
    RoundKind.SETTLING: "settling",
    RoundKind.SWELLS: "swell",
    RoundKind.VIBRATO: "vibrato",
    RoundKind.VOICING: "voicing",
    RoundKind.COLOURS: "colours",
    RoundKind.TRILLS: "trills",
    RoundKind.BREATH: "breath",
    RoundKind.KNOT: "knot",
    RoundKind.CLIMB: "climb-in-turns",
}
"""Kinds of exercise of the routine on sound, and what their pictures are called."""
OLD_KNOT = OldKnot(
    "slow and quick in turns", (Pitch.parse("C5"), Pitch.parse("D5")), DAY - timedelta(days=3), 0
)
BEATS_SHOWN = 5.0


async def photograph_kinds(folder: Path, size: tuple[int, int], home: Path) -> None:
    """Every kind of exercise that has a face of its own, sounding and afterwards."""
    studio = Studio(home, _shipped("sound_and_breath.yaml"), History(DAY, knots=(OLD_KNOT,)))
    session, left = studio.session, dict(KINDS)
    app = TrainerApp(session, studio.week)
    async with app.run_test(size=size) as pilot:

        async def picture(name: str) -> None:
            for _ in range(3):
                app.look()
                await pilot.pause()
            shown = re.sub(r"terminal-\d+", "terminal", app.export_screenshot(title=app.TITLE))
            (folder / f"{name}-{size[0]}x{size[1]}.svg").write_text(shown)

        studio.do(session.advance)
        while left and session.view().stage is not Stage.ENDED:
            round_ = session.view().round
            name = left.pop(round_.kind, None) if round_ is not None else None
            if name is None and (round_ is None or round_.kind is not RoundKind.KNOT):
                studio.do(session.skip)
                continue
            studio.do(session.advance)
            studio.until(_well_under_way)
            if name is not None:
                await picture(name)
            studio.until(lambda view: view.stage is Stage.AFTER)
            if name is not None:
                await picture(f"{name}-after")
            if round_ is not None and round_.kind is RoundKind.KNOT:
                studio.do(session.advance)
            else:
                studio.do(session.skip)
        studio.do(session.stop)


def _well_under_way(view: View) -> bool:
    """Some notes in; out of time, the second note half stood."""
    if view.standing is not None:
        return view.standing.index > 0 and view.standing.share > 0.5
    if view.round is None or view.beat is None:
        return view.stage is Stage.AFTER
    return view.beat > min(BEATS_SHOWN, 0.6 * float(view.round.beats))


async def photograph(folder: Path, size: tuple[int, int], home: Path, theme: str = "") -> None:
    """One picture of every screen at one size."""
    studio = Studio(home, _gallery_routine(home))
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
        await pilot.press("s", "down")
        await pilot.pause()
        await picture("settings")
        await pilot.press("escape")
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


async def photograph_plain(folder: Path, size: tuple[int, int], home: Path) -> None:
    """A round in plain ASCII, with French note names, sounding and afterwards."""
    studio = Studio(home, _gallery_routine(home))
    session = studio.session
    settings = Settings(characters=PLAIN, note_names=Language.FRENCH)
    app = TrainerApp(session, studio.week, settings)
    async with app.run_test(size=size) as pilot:
        studio.do(session.advance)
        studio.do(session.advance)
        for name, stage in (("playing", Stage.PLAYING), ("after", Stage.AFTER)):
            wanted = stage
            studio.until(
                lambda view, wanted=wanted: (
                    view.stage is wanted
                    and (wanted is Stage.AFTER or (view.beat or 0) > PLAYED_BEATS)
                )
            )
            for _ in range(3):
                app.look()
                await pilot.pause()
            shown = re.sub(r"terminal-\d+", "terminal", app.export_screenshot(title=app.TITLE))
            (folder / f"{name}-{size[0]}x{size[1]}-plain.svg").write_text(shown)


async def photograph_first_morning(folder: Path, size: tuple[int, int]) -> None:
    """A newcomer's first two questions, and the microphone."""
    port = SimulatedPort()
    morning = FirstMorning(port, Settings(), lambda _given_up: None)
    app = FirstMorningApp(morning)
    async with app.run_test(size=size) as pilot:
        for name in ("instrument", "tuning", "microphone"):
            port.advance(TICK_FRAMES)
            app.look()
            await pilot.pause()
            shown = re.sub(r"terminal-\d+", "terminal", app.export_screenshot(title=app.TITLE))
            (folder / f"first-{name}-{size[0]}x{size[1]}.svg").write_text(shown)
            await pilot.press("pagedown")


def main() -> None:
    """Every screen at both sizes, once in a light theme and once without colour."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for size in SIZES:
        with TemporaryDirectory() as home:
            asyncio.run(photograph(folder, size, Path(home)))
        with TemporaryDirectory() as home:
            asyncio.run(photograph_kinds(folder, size, Path(home)))
        with TemporaryDirectory() as home:
            asyncio.run(photograph_plain(folder, size, Path(home)))
        asyncio.run(photograph_first_morning(folder, size))
    with TemporaryDirectory() as home:
        asyncio.run(photograph(folder, SIZES[0], Path(home), theme="textual-light"))
    os.environ["NO_COLOR"] = "1"
    with TemporaryDirectory() as home:
        asyncio.run(photograph(folder, SIZES[0], Path(home)))


if __name__ == "__main__":
    main()
