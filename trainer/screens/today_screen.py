"""Today: what the routine holds, how long it takes, and the cautions once."""

from __future__ import annotations

from functools import lru_cache
from textwrap import wrap

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Static

from trainer.music.names import NoteNames, renamed
from trainer.screens.stage_screen import StageScreen
from trainer.screens.week_screen import turned
from trainer.session.view import Today, View

NARROWEST_DETAIL = 12
"""Columns that what is asked must have beside the title."""
AWAITED = "One moment: it begins as soon as the sound is open."
"""Said once practice was begun and the sound is not open yet."""

MORE = "PageDown for the rest of the page"


class TodayScreen(StageScreen):
    """The first screen of a morning."""

    BINDINGS = [
        Binding("m", "app.preview", "Music", id="music", tooltip="Look through today's music"),
        Binding("w", "app.week", "Week", id="week", tooltip="The last seven days"),
        Binding("f", "app.few_minutes", "Short", id="few", tooltip="Only a few minutes today"),
        Binding("t", "app.tuner", "Tuner", id="tuner", tooltip="Tune, or hold a note"),
        Binding("s", "app.settings", "Settings", id="settings", tooltip="Flute, tuning, looks"),
    ]

    def matter(self) -> ComposeResult:
        """The timetable, and the cautions beneath."""
        with VerticalScroll(id="page", can_focus=False):
            yield Static(id="teacher", markup=False)
            yield Static(id="timetable", markup=False)
            yield Static(id="cautions", markup=False)
        yield Static(id="prompt")

    def title_of(self, view: View) -> str:
        """The routine, and how long it takes."""
        return f"{view.today.title}   {view.today.minutes_words}"

    def show(self, view: View) -> None:
        """The timetable never changes; the notice may."""
        super().show(view)
        today = view.today
        self.fill("#teacher", f"From your teacher: {today.from_teacher}" * bool(today.from_teacher))
        width = self.query_one("#timetable").size.width
        self.fill("#timetable", timetable(today, width, self.names))
        self.fill("#cautions", "\n".join(today.cautions))
        page = self.query_one("#page", VerticalScroll)
        self.write("#prompt", MORE if page.scroll_y < page.max_scroll_y else prompt(view))

    def action_advance(self) -> None:
        """First to what does not fit on the screen, then to practice."""
        if not turned(self.query_one("#page", VerticalScroll)):
            super().action_advance()

    def fill(self, selector: str, text: str) -> None:
        """Set a text that may need more or fewer lines."""
        page = self.query_one(selector, Static)
        if str(page.content) != text:
            page.update(text)


def prompt(view: View) -> str:
    """What PageDown does, or what it waits for."""
    if view.awaits_sound:
        return AWAITED
    heard = "" if view.listens else "There is no microphone: practice goes on unheard.   "
    return f"{heard}PageDown to begin"


@lru_cache(maxsize=1)
def timetable(today: Today, width: int, names: NoteNames) -> str:
    """One entry an exercise: number, title, minutes, what is asked; wrapped in its column."""
    titles = [renamed(line.title, names) for line in today.lines]
    widest = max(map(len, titles), default=0)
    rows = []
    for number, (title, line) in enumerate(zip(titles, today.lines, strict=True), start=1):
        start = f"{number:2}  {title:{widest}}  {_minutes(line.minutes):>6}  "
        room = max(width, len(start) + NARROWEST_DETAIL)
        rows += wrap(
            line.detail, room, initial_indent=start, subsequent_indent=" " * len(start)
        ) or [start]
    head = f"{today.instrument}, A4 = {today.a4_hz:g} Hz"
    return "\n".join([head, *([today.words.strip()] if today.words else []), "", *rows])


def _minutes(minutes: float) -> str:
    return f"{60 * minutes:.0f} s" if minutes < 1 else f"{minutes:.0f} min"
