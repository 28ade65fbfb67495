"""Today: what the routine holds, how long it takes, and the cautions once."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Static

from trainer.screens.stage_screen import StageScreen
from trainer.session import Today, View


class TodayScreen(StageScreen):
    """The first screen of a morning."""

    BINDINGS = [Binding("w", "app.week", "Week", id="week", tooltip="The last seven days")]

    def matter(self) -> ComposeResult:
        """The timetable, and the cautions beneath."""
        with VerticalScroll(id="page", can_focus=False):
            yield Static(id="timetable", markup=False)
            yield Static(id="cautions", markup=False)
        yield Static(id="prompt")

    def show(self, view: View) -> None:
        """The timetable never changes; the notice may."""
        super().show(view)
        today = view.today
        self.show_title(f"{today.title}   about {today.minutes:.0f} minutes")
        self.fill("#timetable", timetable(today))
        self.fill("#cautions", "\n".join(today.cautions))
        heard = "" if view.listens else "There is no microphone: practice goes on unheard.   "
        self.write("#prompt", f"{heard}PageDown to begin")

    def fill(self, selector: str, text: str) -> None:
        """Set a text that may need more or fewer lines."""
        page = self.query_one(selector, Static)
        if str(page.content) != text:
            page.update(text)


def timetable(today: Today) -> str:
    """One line an exercise: number, title, what is asked, minutes."""
    widest = max((len(line.title) for line in today.lines), default=0)
    rows = [
        f"{number:2}  {line.title:{widest}}  {_minutes(line.minutes):>6}  {line.detail}"
        for number, line in enumerate(today.lines, start=1)
    ]
    head = f"{today.instrument}, A4 = {today.a4_hz:g} Hz"
    return "\n".join([head, *([today.words.strip()] if today.words else []), "", *rows])


def _minutes(minutes: float) -> str:
    return f"{60 * minutes:.0f} s" if minutes < 1 else f"{minutes:.0f} min"
