"""The click beside the routine: its tempo in figures as large as the window, its beats beneath."""

from __future__ import annotations

import time
from functools import partial

from textual.binding import Binding

from trainer.screens.beside_screen import LARGE, OPENING, BesideScreen
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.large_figures import filling_rows
from trainer.screens.widgets.key_line import HELP_UNSEEN
from trainer.session.view import ClickChange, ClickView

NOW, BEAT, GROUP = "●", "○", "   "
MARK_ROWS = 2
"""The beats' marks, and an empty row beneath them."""


class ClickScreen(BesideScreen):
    """The tempo in large figures, a mark for each beat."""

    LOOKS_PER_S = 30
    """Often enough that a beat is seen where it sounds."""

    BINDINGS = [
        LARGE,
        Binding("space,enter", "change('start or stop')", "Start", id="start", tooltip="Or stop"),
        Binding("minus,down", "change('slower')", "Slower", id="slower", tooltip="One slower"),
        Binding("plus,equals_sign,up", "change('faster')", "Faster", id="faster", tooltip="One up"),
        Binding("t", "tap", "Tap", id="tap", tooltip="Tap the tempo with this key"),
        Binding("b", "change('beats')", "Beats", id="beats", tooltip="Beats of a bar, fives too"),
        Binding("x", "change('silence')", "Silent", id="silent", tooltip="Bars without the click"),
        Binding("g", "change('growth')", "Grow", id="grow", tooltip="A quarter faster in 16 bars"),
        HELP_UNSEEN,
        Binding("escape,q,c,pagedown", "leave", "Back", id="back", tooltip="Back to practice"),
    ]

    def use(self, *, wanted: bool) -> None:
        """Use the click, or go back."""
        self.practice.use_click(wanted)

    def look(self) -> None:
        """Show the beat of the moment."""
        click = self.practice.view().click
        self.write("#title", "Click")
        self.write("#prompt", OPENING if click is None else asked(click))
        self.write("#notice", self.told())
        if click is not None:
            self.draw(partial(tempo_rows if self.large else click_rows, click))

    def action_change(self, change: str) -> None:
        """Ask for it."""
        self.practice.change_click(ClickChange(change))

    def action_tap(self) -> None:
        """One tap, at this moment."""
        self.practice.tap(time.monotonic())


def asked(click: ClickView) -> str:
    """What is asked beside the tempo, in words."""
    parts = ["+".join(map(str, click.groups)) + " in a bar" if sum(click.groups) > 1 else "no bars"]
    if click.silent_bars:
        bars = "bar" if click.silent_bars == 1 else "bars"
        parts.append(f"{click.silent_bars} {bars} on, {click.silent_bars} silent")
    if click.goal_bpm is not None:
        parts.append(f"growing to {click.goal_bpm:.0f}")
    return "   ".join(parts)


def tempo_rows(click: ClickView, width: int, height: int) -> tuple[Row, ...]:
    """The tempo alone, as large as there is room for."""
    ink = Ink.WORDS if click.sounds else Ink.QUIET
    return filling_rows(f"{click.tempo_bpm:.0f}", ink, width, height)


def click_rows(click: ClickView, width: int, height: int) -> tuple[Row, ...]:
    """The tempo, and beneath it a mark for each beat of the bar."""
    rows = tempo_rows(click, width, max(1, height - MARK_ROWS))
    canvas = Canvas(width, height)
    canvas.paste(rows, 0)
    starts = [sum(click.groups[:place]) for place in range(1, len(click.groups))]
    marks = ""
    for beat in range(sum(click.groups)):
        gap = GROUP if beat in starts else " "
        marks += (gap if beat else "") + (NOW if beat == click.beat else BEAT)
    canvas.put((width - len(marks)) // 2, min(height - 1, len(rows)), marks, Ink.WORDS)
    return canvas.rows()
