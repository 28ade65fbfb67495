"""The session's end: what was done, where it is written down, the student's own word."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Input, Static

from trainer.screens.stage_screen import StageScreen
from trainer.session import View


class EndScreen(StageScreen):
    """The last screen of a morning."""

    BINDINGS = [
        Binding("pagedown", "week", "Week", id="end-week", tooltip="The last seven days"),
    ]

    def matter(self) -> ComposeResult:
        """What was done, and a line for a remark."""
        with VerticalScroll(id="page", can_focus=False):
            yield Static(id="done", markup=False)
        yield Input(placeholder="A remark of your own, then Enter", id="remark")

    def show(self, view: View) -> None:
        """What was done never changes any more."""
        super().show(view)
        self.show_title(f"{view.today.title}   {view.elapsed_s / 60:.0f} minutes")
        done = self.query_one("#done", Static)
        text = done_text(view)
        if str(done.content) != text:
            done.update(text)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Keep the remark."""
        self.practice.remark(event.value)
        event.input.disabled = True
        self.set_focus(None)


def done_text(view: View) -> str:
    """Rounds and minutes by exercise, and the file they are in."""
    rows = [f"{line.title}   {line.rounds} rounds" for line in view.done if line.rounds]
    lines = rows or ["Nothing was played."]
    return "\n".join([*lines, "", f"Written down in {view.journal_path}", "PageDown for the week."])
