"""Today: what the routine holds, how long it takes, and the cautions once."""

from __future__ import annotations

from functools import lru_cache
from textwrap import wrap

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from trainer.music.names import NoteNames, renamed
from trainer.screens.session_requests import Practice
from trainer.screens.stage_screen import GO_ON_SAID, OTHER_TOOLTIP, StageScreen
from trainer.screens.week_screen import turned
from trainer.screens.widgets.marked_list import QUIET
from trainer.session.view import TimetableLine, Today, View

NARROWEST_DETAIL = 12
"""Columns that what is asked must have beside the title."""
WIDE = 96
"""From so many columns the last tempo has a column of its own, LAST_COLUMNS wide."""
LAST_COLUMNS, GAP = 12, 3
"""GAP: columns before it, where what is asked is shorter."""
NUMBER_COLUMNS, MINUTES_COLUMNS = 4, 10
"""Before a title, and between it and what is asked."""
WIDEST = 110
"""Columns of the page on a wider screen: the eye finds the next line, and the last tempo."""
MARGINS = 4
"""Empty rows around what stands on the page."""
LINES_AROUND = 3
"""Title, prompt and keys."""
SCROLLBAR_COLUMNS = 1
MOST_TOLD = 3
"""Notices shown together, the newest of them."""
AWAITED = "One moment: it begins as soon as the sound is open."
"""Said once practice was begun and the sound is not open yet."""

MORE = "PageDown for the rest of the page"


class TodayScreen(StageScreen):
    """The first screen of a morning."""

    BINDINGS = [
        GO_ON_SAID,
        Binding("m", "app.preview", "Music", id="music", tooltip="Look through today's music"),
        Binding("f", "app.few_minutes", "Short", id="few", tooltip="Only a few minutes today"),
        Binding("k", "app.shelf", "Spots", id="spots", tooltip="Trouble spots: pick one"),
        Binding("t", "app.tuner", "Tune", id="tuner", tooltip="Tune, or hold a note"),
        Binding("o", "app.routines", "Routine", id="routines", tooltip=OTHER_TOOLTIP),
        Binding("s", "app.settings", "Settings", id="settings", tooltip="Flute, tuning, looks"),
        Binding("w", "app.week", "Week", id="week", tooltip="The last seven days"),
    ]

    def __init__(self, practice: Practice) -> None:
        super().__init__(practice)
        self._fitted: object = None
        self._unseen_rows = 0

    def matter(self) -> ComposeResult:
        """The timetable, and the cautions beneath."""
        with VerticalScroll(id="page", can_focus=False):
            yield Static(id="teacher", markup=False)
            yield Static(id="routine-words", markup=False)
            yield Static(id="timetable", markup=False)
            yield Static(id="cautions", markup=False)
        yield Static(id="prompt", markup=False)

    def title_of(self, view: View) -> str:
        """The routine, how long it takes, and on which flute."""
        today = view.today
        return (
            f"{today.title}   {today.minutes_words}   {today.instrument}, A4 = {today.a4_hz:g} Hz"
        )

    def show(self, view: View) -> None:
        """The timetable never changes; the notice may."""
        super().show(view)
        today = view.today
        note = f"From your teacher: {today.from_teacher}" * bool(today.from_teacher)
        self.fill("#teacher", "\n".join(filter(None, (note, today.lesson))))
        self.fill("#routine-words", today.words.strip())
        self.fill("#cautions", "\n".join(today.cautions))
        fitted = today, self.names, view.notices[-MOST_TOLD:], self.app.size
        if fitted != self._fitted:
            self._fitted = fitted
            self._fit(today)
        page = self.query_one("#page", VerticalScroll)
        below = page.max_scroll_y if page.size else self._unseen_rows
        self.write("#prompt", MORE if page.scroll_y < below else prompt(view))

    def show_notice(self, view: View) -> None:
        """What the morning found: a fault of the settings stands though the microphone has one."""
        self.write("#notice", "\n".join(view.notices[-MOST_TOLD:]), layout=True)

    def _fit(self, today: Today) -> None:
        """The timetable in the window's columns, apart where there is room; reckoned before it is
        laid out, so that the first frame is whole."""
        page, window = self.query_one("#page", VerticalScroll), self.app.size
        notice = self.query_one("#notice").get_content_height(window, window, window.width)
        room = window.height - LINES_AROUND - notice
        columns = window.width - page.gutter.width

        def rows_with(columns: int, *, roomy: bool) -> int:
            width = min(WIDEST, columns)
            self.fill("#timetable", timetable(today, width, self.names, roomy=roomy))
            shown = [each for each in page.children if each.display]
            return MARGINS + sum(each.get_content_height(window, window, width) for each in shown)

        rows = rows_with(columns, roomy=False)
        if rows > room:
            rows = rows_with(columns - SCROLLBAR_COLUMNS, roomy=False)
        elif rows + 2 * sum(line.after_minutes is not None for line in today.lines) <= room:
            rows = rows_with(columns, roomy=True)
        self._unseen_rows = max(0, rows - room)

    def action_advance(self) -> None:
        """First to what does not fit on the screen, then to practice."""
        if not turned(self.query_one("#page", VerticalScroll)):
            super().action_advance()

    def action_back(self) -> None:
        """A page up."""
        self.query_one("#page", VerticalScroll).scroll_page_up(animate=False)

    def fill(self, selector: str, text: str | Content) -> None:
        """Set a text that may need more or fewer lines; without one its row goes."""
        line = self.query_one(selector, Static)
        if line.content != text:
            line.display = bool(text)
            line.update(text)


def prompt(view: View) -> str:
    """What PageDown does, or what it waits for."""
    if view.awaits_sound:
        return AWAITED
    heard = "" if view.listens else "There is no microphone: practice goes on unheard.   "
    return f"{heard}PageDown to begin"


@lru_cache(maxsize=2)
def timetable(today: Today, width: int, names: NoteNames, *, roomy: bool) -> Content:
    """One entry an exercise: number, title, what is new, minutes, what is asked, the last tempo.

    What is asked wraps in its column; where there is room, rests stand apart.
    """
    titles = [renamed(line.title, names) for line in today.lines]
    widest = max(
        (len(title) + len(_news(line)) for title, line in zip(titles, today.lines, strict=True)),
        default=0,
    )
    indent = NUMBER_COLUMNS + widest + MINUTES_COLUMNS
    asked = max((len(_asked(line)) for line in today.lines), default=0)
    last_at = min(indent + asked + GAP, width - LAST_COLUMNS) if width >= WIDE else None
    rows: list[Content] = []
    for number, (title, line) in enumerate(zip(titles, today.lines, strict=True), start=1):
        apart = roomy and line.after_minutes is not None
        rows += [Content("")] * apart
        rows += _entry(number, title, line, indent, width, last_at)
        rows += [Content("")] * apart
    return Content("\n").join(rows)


def _entry(
    number: int, title: str, line: TimetableLine, indent: int, width: int, last_at: int | None
) -> list[Content]:
    """What is asked begins at column `indent`, the last tempo at `last_at`; None: behind it."""
    told, last = _asked(line), _last(line)
    if last and last_at is None:
        told = f"{told}, {last}" if told else last
    ends = width if last_at is None else last_at - GAP
    detail = wrap(told, max(NARROWEST_DETAIL, ends - indent)) or [""]
    rests = line.first_round is None
    left = Content.assemble((f"{number:2}  {title}", QUIET if rests else ""), (_news(line), "bold"))
    minutes = f"{line.minutes_words}  "
    gap = " " * (indent - left.cell_length - len(minutes))
    first = Content.assemble(left, gap, (minutes, QUIET), (detail[0], QUIET))
    if last and last_at is not None:
        first = Content.assemble(first, " " * (last_at - first.cell_length), last)
    return [first, *(Content.styled(" " * indent + each, QUIET) for each in detail[1:])]


def _news(line: TimetableLine) -> str:
    return f"  {line.news}" if line.news else ""


def _last(line: TimetableLine) -> str:
    return "" if line.last_bpm is None else f"last {line.last_bpm:.0f}"


def _asked(line: TimetableLine) -> str:
    """What is asked; of a rest, what it comes after."""
    if line.after_minutes:
        return f"after {max(1, round(line.after_minutes))} min"
    return line.detail if line.first_round is not None else ""
