"""Pictures of every screen, from seeded sessions: `python -m demo.gallery FOLDER [--shown]`.

Every screen at four sizes, dark, light, without colour (NO_COLOR) and in plain ASCII; where music
sounds with the music in pixels too. With `--shown` only those that README and
demo/screens/README.md show, which is what demo/screens/ holds. `--size 80x24` makes one size.
"""

from __future__ import annotations

import argparse
import asyncio
import re
from base64 import standard_b64encode
from collections.abc import AsyncIterator, Callable, Iterator, Sequence
from contextlib import AsyncExitStack, asynccontextmanager, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch
from weakref import WeakKeyDictionary

from textual.filter import Monochrome
from textual.geometry import Region
from textual.pilot import Pilot

from demo.practise import loaded
from demo.weeks import STUDENT, write_weeks
from demo.worked_off import pilots_without_a_clock
from trainer.app.first_run import FirstMorning
from trainer.app.microphone_policy import NEW
from trainer.app.newcomers_devices import devices_on
from trainer.app.open_session import open_session, planned_for, remembered_sessions
from trainer.app.paths import Paths, user_paths
from trainer.app.settings import LIGHT, PLAIN, Settings
from trainer.app.simulated_flutist import SimulatedFlutist
from trainer.app.todays_routine import SHIPPED_ROUTINES
from trainer.coach.history import History, OldKnot
from trainer.journal.week_summary import TWO_WEEKS, week
from trainer.journal.week_text import week_pages
from trainer.music.pitch import Pitch
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES
from trainer.routine.model import Routine
from trainer.routine.round import RoundKind
from trainer.screens.app import TrainerApp
from trainer.screens.appearance import Appearance
from trainer.screens.first_run_screen import FirstMorningApp
from trainer.screens.pixels.palette import Palette
from trainer.screens.pixels.picture_codes import coloured
from trainer.screens.pixels.staff_picture import StaffPicture
from trainer.screens.pixels.terminal_pixels import PixelWay
from trainer.screens.week_screen import PAGE_BREAK
from trainer.session.beginning import Beginning
from trainer.session.history_from_journal import history_of
from trainer.session.microphone_check import CheckAsked
from trainer.session.session import Session
from trainer.session.view import Stage, View
from trainer.sound.simulated import SimulatedPort

SIZES = ((80, 24), (100, 30), (120, 40), (200, 60))
LOOKS = ("", "light", "no-colour", "plain")
IN_PIXELS = "pixels"
PIXEL_LOOKS = ("", "light")
"""Without colour and in plain characters music is the same in pixels as dark, or in cells."""
CELL_PIXELS = (12, 24)
"""Of the pictures; about what terminals have on a large screen."""
SVG_CELL = (12.2, 24.4)
SVG_TOP = 1.5
"""Columns, rows and the first row's place in the pictures that Textual makes."""
ALL_LOOKS_SHOWN = ("playing", "after")
LARGE_SHOWN = ("today", "playing", "after", "settling", "figures", "climb", "week")
LARGE = 120
"""Columns of the large pictures in demo/screens/."""
DAY = date(2026, 3, 6)
MORNING = datetime(2026, 3, 6, 7, 30, tzinfo=UTC)
BEFORE, ONE_DAY = timedelta(days=4), timedelta(days=1)
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
OTHER_KINDS = {
    "busy_day.yaml": {RoundKind.LONG_TONES: "long-tones"},
    "singing_lines.yaml": {RoundKind.COLOURS: "six-eighths"},
}
OLD_KNOT = OldKnot(
    "slow and quick in turns", (Pitch.parse("C5"), Pitch.parse("D5")), DAY - BEFORE, 0
)
BEATS_SHOWN = 5.0


@dataclass
class Stand:
    """An app of one size, which shows music in one way."""

    app: Appearance
    pilot: Pilot[object]
    folder: Path
    shown_only: bool
    home: str = ""

    async def picture(self, name: str) -> None:
        """One picture for each look asked for; in pixels only where there are any."""
        in_pixels = self.app.pixels is not None
        for look in PIXEL_LOOKS if in_pixels else LOOKS:
            width, height = self.app.size
            words = [name, f"{width}x{height}", *([look] if look else []), *[IN_PIXELS] * in_pixels]
            if not self.shown_only or is_shown(name, width, look, in_pixels=in_pixels):
                await self._dress(look)
                if not in_pixels or self._pictures():
                    (self.folder / f"{'-'.join(words)}.svg").write_text(self._svg())
        await self._dress("")

    async def press(self, *keys: str) -> None:
        """Press keys one after another."""
        await self.pilot.press(*keys)
        await self.pilot.pause()

    async def _dress(self, look: str) -> None:
        """Put the app into a look; without colour as under NO_COLOR."""
        app, usual = self.app, Settings()
        app._filters = [each for each in app._filters if not isinstance(each, Monochrome)]
        if look == "no-colour":
            app._filters.append(Monochrome())
        app.dress(
            replace(
                usual,
                colours=LIGHT if look == "light" else usual.colours,
                characters=PLAIN if look == "plain" else usual.characters,
            )
        )
        for _ in range(3):
            app.look()  # type: ignore[attr-defined]
            await self.pilot.pause()

    def _svg(self) -> str:
        svg = self.app.export_screenshot(title=self.app.TITLE)
        svg = svg.replace(self.home, HOME_SHOWN) if self.home else svg
        svg = re.sub(r"terminal-\d+", "terminal", svg)
        cells, end, rest = svg.rpartition("</g>\n</svg>")
        return "".join((cells, *map(_image, self._pictures()), end, rest))

    def _pictures(self) -> list[StaffPicture]:
        return [each for each in self.app.screen.query(StaffPicture) if each.display]


def _image(widget: StaffPicture) -> str:
    """A staff's picture in its place over the cells."""
    picture, place = SHOWN_LAST[widget]
    png = BytesIO()
    picture.save(png, "PNG")
    x, y, width, height = (
        n * SVG_CELL[axis % 2] for axis, n in enumerate((place.x, place.y, *place.size))
    )
    return (
        f'<image x="{x:.1f}" y="{y + SVG_TOP:.1f}" width="{width:.1f}" height="{height:.1f}" '
        f'preserveAspectRatio="none" href="data:image/png;base64,'
        f'{standard_b64encode(png.getvalue()).decode()}"/>'
    )


@dataclass(frozen=True)
class Camera:
    """Takes pictures of a session at every size at once: it is played and listened to only once."""

    stands: tuple[Stand, ...]

    async def picture(self, name: str) -> None:
        """On each stand, in every look."""
        for stand in self.stands:
            with stand.app._context():
                await stand.picture(name)

    async def press(self, *keys: str) -> None:
        """On each stand."""
        for stand in self.stands:
            with stand.app._context():
                await stand.press(*keys)


@dataclass(frozen=True)
class Wanted:
    """What is to be made."""

    folder: Path
    sizes: tuple[tuple[int, int], ...]
    shown_only: bool

    @asynccontextmanager
    async def camera(
        self,
        app_of: Callable[[], Appearance],
        ways: Sequence[PixelWay | None] = (None, PixelWay.KITTY),
        home: str = "",
    ) -> AsyncIterator[Camera]:
        """An app for each size and each way to show music, on stands of their own."""
        async with AsyncExitStack() as opened:
            stands = []
            for size in self.sizes:
                for way in ways:
                    if self.shown_only and way and size[0] != LARGE:
                        continue
                    app = app_of()
                    app.pixels = way
                    pilot = await opened.enter_async_context(app.run_test(size=size))
                    stands.append(Stand(app, pilot, self.folder, self.shown_only, home))
            yield Camera(tuple(stands))


SHOWN_LAST: WeakKeyDictionary[StaffPicture, tuple[Any, Region]] = WeakKeyDictionary()
"""What each widget was given to show, and where."""


@contextmanager
def terminal_with_pixels() -> Iterator[None]:
    """A terminal of all colours that says how large its cells are; what it is given to show is
    remembered."""
    show = StaffPicture.show

    def remembered(
        widget: StaffPicture, key: object, picture: Any, palette: Palette, place: Region
    ) -> None:
        SHOWN_LAST[widget] = coloured(picture, palette), place
        show(widget, key, picture, palette, place)

    with (
        patch.object(StaffPicture, "show", remembered),
        patch("trainer.screens.playing_screen.cell_pixels", lambda: CELL_PIXELS),
        patch.dict("os.environ", {"COLORTERM": "truecolor"}),
    ):
        yield


def is_shown(name: str, width: int, look: str, *, in_pixels: bool) -> bool:
    """Whether the picture is one of those in demo/screens/."""
    small, large = width == SIZES[0][0], width == LARGE
    if in_pixels:
        return large and name == "playing" and not look
    if look:
        return small and name in ALL_LOOKS_SHOWN
    return small or (large and name in LARGE_SHOWN)


class Studio:
    """A session whose time is in our hand."""

    def __init__(
        self,
        folder: Path,
        routine: Routine,
        history: History | None = None,
        morning: datetime = MORNING,
    ) -> None:
        self.paths = user_paths({"TRAINER_HOME": str(folder)})
        self.port = SimulatedPort()
        sessions, _ = remembered_sessions(self.paths, DAY - TWO_WEEKS, morning.date() - ONE_DAY)
        stand_in = SimulatedFlutist(Flutist(EXAMPLES["student"], seed=morning.day), self.port)
        self.session: Session = open_session(
            routine,
            planned_for(routine, morning.date(), ()),
            self.port,
            self.paths,
            Beginning(
                now=lambda: morning,
                student=STUDENT,
                round_begins=stand_in.round_begins,
                history=history,
            ),
            sessions,
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
        sessions, _ = remembered_sessions(self.paths, DAY - TWO_WEEKS, DAY)
        return PAGE_BREAK.join(week_pages(week(sessions, DAY)))


def _shipped(name: str) -> Routine:
    return loaded(SHIPPED_ROUTINES / name)


def gallery_routine(home: Path) -> Routine:
    """The short routine of the pictures."""
    file = home / "before_breakfast.yaml"
    file.write_text(GALLERY_ROUTINE)
    return loaded(file)


def _after(view: View) -> bool:
    return view.stage is Stage.AFTER


def _past(paths: Paths, routine: Routine, home: Path) -> History:
    """Two weeks of practice, and this routine's first round three days ago."""
    write_weeks(_shipped("busy_day.yaml"), paths, DAY)
    before = Studio(home, routine, morning=MORNING - BEFORE)
    before.do(before.session.advance)
    before.do(before.session.advance)
    before.until(_after)
    before.do(before.session.stop)
    sessions, _ = remembered_sessions(paths, DAY - TWO_WEEKS, DAY)
    return history_of(sessions, DAY)


async def photograph_morning(wanted: Wanted, home: Path) -> None:
    """A morning from its first screen to its last."""
    routine = gallery_routine(home)
    history = _past(user_paths({"TRAINER_HOME": str(home)}), routine, home)
    studio = Studio(home, routine, history)
    session = studio.session
    async with wanted.camera(lambda: TrainerApp(session, studio.week), home=str(home)) as camera:
        picture = camera.picture
        await picture("today")
        await camera.press("s", "down")
        await picture("settings")
        await camera.press("escape", "m")
        await picture("music")
        await camera.press("escape")
        session._walk._first_look.asked = CheckAsked(NEW, lambda _: None)
        studio.do(session.advance)
        studio.until(lambda view: view.elapsed_s > 1)
        await picture("sound-check")
        studio.do(session.advance)
        await picture("ready")
        studio.do(session.advance)
        studio.until(lambda view: view.beat is not None and view.beat > COUNTED_BEATS)
        await picture("count-in")
        studio.until(lambda view: view.beat is not None and view.beat > PLAYED_BEATS)
        await picture("playing")
        studio.until(_after)
        await picture("after")
        await camera.press("e")
        await picture("figures")
        await camera.press("question_mark")
        await picture("help")
        await camera.press("escape")
        await camera.press("e")
        studio.do(session.skip)
        studio.do(session.advance)
        for rounds in range(3):
            studio.until(lambda view, rounds=rounds: _after(view) and len(view.tempos) >= rounds)
            await picture("climb") if rounds == 2 else studio.do(session.advance)
        studio.do(session.skip)
        await picture("reading")
        studio.do(session.advance)
        await picture("rest")
        studio.do(session.stop)
        await picture("end")
        await camera.press("pagedown")
        await picture("week")


async def photograph_kinds(
    wanted: Wanted, home: Path, routine: str, kinds: dict[RoundKind, str]
) -> None:
    """The kinds of exercise of a routine that have a face of their own, sounding and afterwards."""
    studio = Studio(home, _shipped(routine), History(DAY, knots=(OLD_KNOT,)))
    session, left = studio.session, dict(kinds)
    async with wanted.camera(lambda: TrainerApp(session, studio.week)) as camera:
        studio.do(session.advance)
        while left and session.view().stage is not Stage.ENDED:
            round_ = session.view().round
            name = left.get(round_.kind) if round_ is not None else None
            is_knot = round_ is not None and round_.kind is RoundKind.KNOT
            if round_ is None or (name is None and not is_knot):
                studio.do(session.skip)
                continue
            left.pop(round_.kind, None)
            if is_knot and name is not None:
                await camera.picture(f"{name}-ready")
            studio.do(session.advance)
            studio.until(_well_under_way)
            if name is not None:
                await camera.picture(name)
            studio.until(_after)
            if name is not None:
                await camera.picture(f"{name}-after")
            studio.do(session.advance if is_knot else session.skip)
        studio.do(session.stop)


def _well_under_way(view: View) -> bool:
    """Some notes in; out of time, the second note half stood."""
    if view.standing is not None:
        return view.standing.index > 0 and view.standing.share > 0.5
    if view.round is None or view.beat is None:
        return view.stage is Stage.AFTER
    return view.beat > min(BEATS_SHOWN, 0.6 * float(view.round.beats))


async def photograph_first_morning(wanted: Wanted) -> None:
    """A newcomer's first two questions, and the microphone."""
    for size in wanted.sizes:
        port = SimulatedPort()
        devices = devices_on(port, lambda _given_up: None)
        morning = FirstMorning(lambda: devices, Settings())  # noqa: B023  (used at once)
        alone = replace(wanted, sizes=(size,))
        async with alone.camera(lambda: FirstMorningApp(morning), (None,)) as camera:  # noqa: B023
            for name in ("instrument", "tuning", "microphone"):
                port.advance(TICK_FRAMES)
                await camera.picture(f"first-{name}")
                await camera.press("pagedown")


def main() -> None:
    """Every screen at every size, or at one."""
    parser = argparse.ArgumentParser(description="Pictures of every screen.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--shown", action="store_true", help="only those in demo/screens/")
    parser.add_argument("--size", metavar="COLUMNSxROWS", help="only this one")
    options = parser.parse_args()
    options.folder.mkdir(parents=True, exist_ok=True)
    sizes = tuple(size for size in SIZES if options.size in (None, f"{size[0]}x{size[1]}"))
    wanted = Wanted(options.folder, sizes, options.shown)
    with terminal_with_pixels(), pilots_without_a_clock():
        asyncio.run(photograph_first_morning(wanted))
        with TemporaryDirectory() as home:
            asyncio.run(photograph_morning(wanted, Path(home)))
        for routine, kinds in {"sound_and_breath.yaml": KINDS, **OTHER_KINDS}.items():
            with TemporaryDirectory() as home:
                asyncio.run(photograph_kinds(wanted, Path(home), routine, kinds))


if __name__ == "__main__":
    main()
