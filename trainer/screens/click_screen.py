"""The click beside the routine: its tempo in figures as large as the window, its beats beneath."""

from __future__ import annotations

import time

from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Footer, Static

from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.large_figures import FIGURE_COLUMNS, FIGURE_ROWS, figure_rows
from trainer.screens.session_requests import Practice
from trainer.screens.widgets.cells import Cells
from trainer.screens.widgets.heading import Heading
from trainer.session.view import ClickChange, ClickView

LOOKS_PER_S = 30
"""Often enough that a beat is seen where it sounds."""
OPENING = "One moment: the sound is being opened."
NOW, BEAT, GROUP = "●", "○", "   "


class ClickScreen(Screen[None]):
    """Over whatever the session shows, which waits."""

    BINDINGS = [
        Binding("space,enter", "change('start or stop')", "Start", id="start", tooltip="Or stop"),
        Binding("minus,down", "change('slower')", "Slower", id="slower", tooltip="One slower"),
        Binding("plus,equals_sign,up", "change('faster')", "Faster", id="faster", tooltip="One up"),
        Binding("t", "tap", "Tap", id="tap", tooltip="Tap the tempo with this key"),
        Binding("b", "change('beats')", "Beats", id="beats", tooltip="Beats of a bar, fives too"),
        Binding("x", "change('silence')", "Silent", id="silent", tooltip="Bars without the click"),
        Binding("g", "change('growth')", "Grow", id="grow", tooltip="A quarter faster in 16 bars"),
        Binding("question_mark,f1", "app.help", "Help", id="help", show=False, tooltip="All keys"),
        Binding("escape,q,c,pagedown", "leave", "Back", id="back", tooltip="Back to practice"),
    ]

    def __init__(self, practice: Practice) -> None:
        super().__init__()
        self._practice = practice

    def compose(self) -> ComposeResult:
        """The tempo and the bar, what else is asked, the keys."""
        yield Heading("Click", id="title")
        yield Cells(id="music")
        yield Static(id="prompt", markup=False)
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        """Use it from now on."""
        self._practice.use_click(True)
        self.set_interval(1 / LOOKS_PER_S, self.look)
        self.call_after_refresh(self.look)

    def look(self) -> None:
        """Show the beat of the moment."""
        click, music = self._practice.view().click, self.query_one("#music", Cells)
        self.query_one("#prompt", Static).update(OPENING if click is None else asked(click))
        if click is not None and music.size.width and music.size.height:
            music.show(click_rows(click, *music.size))

    def action_change(self, change: str) -> None:
        """Ask for it."""
        self._practice.change_click(ClickChange(change))

    def action_tap(self) -> None:
        """One tap, at this moment."""
        self._practice.tap(time.monotonic())

    def action_leave(self) -> None:
        """Back to where the session stands."""
        self._practice.use_click(False)
        self.app.pop_screen()


def asked(click: ClickView) -> str:
    """What is asked beside the tempo, in words."""
    parts = ["+".join(map(str, click.groups)) + " in a bar" if sum(click.groups) > 1 else "no bars"]
    if click.silent_bars:
        bars = "bar" if click.silent_bars == 1 else "bars"
        parts.append(f"{click.silent_bars} {bars} on, {click.silent_bars} silent")
    if click.goal_bpm is not None:
        parts.append(f"growing to {click.goal_bpm:.0f}")
    return "   ".join(parts)


def click_rows(click: ClickView, width: int, height: int) -> tuple[Row, ...]:
    """The tempo as large as there is room for, and a mark for each beat of the bar."""
    canvas = Canvas(width, height)
    text = f"{click.tempo_bpm:.0f}"
    columns = len(text) * (FIGURE_COLUMNS + 1)
    scale = max(1, min((height - 3) // FIGURE_ROWS, width // columns))
    figure = figure_rows(text, scale)
    top = max(0, (height - 2 - len(figure)) // 2)
    for row, line in enumerate(figure, top):
        canvas.put((width - len(line)) // 2, row, line, Ink.WORDS if click.sounds else Ink.QUIET)
    starts = [sum(click.groups[:place]) for place in range(1, len(click.groups))]
    marks = ""
    for beat in range(sum(click.groups)):
        gap = GROUP if beat in starts else " "
        marks += (gap if beat else "") + (NOW if beat == click.beat else BEAT)
    canvas.put((width - len(marks)) // 2, min(height - 1, top + len(figure) + 1), marks, Ink.WORDS)
    return canvas.rows()
