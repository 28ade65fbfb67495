"""A rest, the teacher's words to read, and a moment's thought: few words, large."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from trainer.screens.drawing.large_figures import figure_rows
from trainer.screens.stage_screen import StageScreen
from trainer.session.view import Stage, View

ROWS_A_SCALE = 12
"""The clock grows with the screen: a quarter of its height."""


class PauseScreen(StageScreen):
    """Nothing sounds."""

    BINDINGS = [
        Binding("n", "skip", "Next", id="skip", tooltip="On to the next exercise"),
    ]

    def matter(self) -> ComposeResult:
        """Words, and the time left when it is a rest."""
        yield Static(id="words", markup=False)
        yield Static(id="clock", markup=False)

    def title_of(self, view: View) -> str:
        """Where in the routine this stands."""
        line = view.today.lines[view.exercise_index]
        return f"{view.exercise_index + 1} of {len(view.today.lines)}   {line.title}"

    def show(self, view: View) -> None:
        """The words once; the time as it goes."""
        super().show(view)
        resting = view.stage is Stage.REST
        words = self.query_one("#words", Static)
        text = "Flute down. Rest." if resting else view.words
        if str(words.content) != text:
            words.update(text)
        seconds = view.seconds_left
        clock = ""
        if resting and seconds is not None:
            scale = max(1, self.size.height // ROWS_A_SCALE)
            clock = "\n".join(figure_rows(f"{int(seconds) // 60}:{int(seconds) % 60:02}", scale))
        self.write("#clock", clock)
