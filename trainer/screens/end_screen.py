"""The session's end: the best thing, tomorrow's thing, what was done, the student's own word."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Input, Static

from trainer.coach.advice import Felt
from trainer.screens.stage_screen import StageScreen
from trainer.screens.then_and_now_screen import THEN_AND_NOW
from trainer.session.view import View

ASKED = "How did it feel?   1 easy   2 fine   3 hard        PageDown for the week"
SUNDAY_WORDS = "It is Sunday: k plays a round of this week beside an old take of the same."


class EndScreen(StageScreen):
    """The last screen of a morning."""

    AUTO_FOCUS = ""

    BINDINGS = [
        Binding(
            "pagedown,space,enter,w",
            "app.week",
            "Week",
            id="week",
            show=False,
            tooltip="The last seven days",
        ),
        *(
            Binding(
                str(place),
                f"felt('{felt}')",
                felt,
                id=felt,
                show=False,
                tooltip=f"The session felt {felt}",
            )
            for place, felt in enumerate(Felt, start=1)
        ),
        THEN_AND_NOW,
        Binding(
            "m", "remark", "Remark", id="remark", show=False, tooltip="Add a remark of your own"
        ),
    ]

    def matter(self) -> ComposeResult:
        """What was done, and a line for a remark."""
        with VerticalScroll(id="page", can_focus=False):
            yield Static(id="closing", markup=False)
            yield Static(id="done", markup=False)
            yield Static(id="sunday", markup=False)
            yield Static(id="kept", markup=False)
        yield Static(ASKED, id="prompt", markup=False)
        yield Input(placeholder="m: a remark of your own", id="remark")

    def title_of(self, view: View) -> str:
        """The routine, and how long it took."""
        minutes = max(1, round(view.elapsed_s / 60))
        return f"{view.today.title}   {minutes} minute{'s' * (minutes > 1)}"

    def show(self, view: View) -> None:
        """What was done never changes any more."""
        super().show(view)
        self.write("#closing", closing_text(view), layout=True)
        self.write("#done", done_text(view), layout=True)
        self.write("#sunday", SUNDAY_WORDS if view.today.hears_then_and_now else "", layout=True)
        self.write("#kept", kept_text(view), layout=True)

    def action_felt(self, felt: str) -> None:
        """Say how the session felt."""
        self.practice.felt(Felt(felt))
        self.write("#prompt", f"It felt {felt}: written down.        PageDown for the week")

    def action_remark(self) -> None:
        """Go to the line for a remark."""
        self.query_one("#remark", Input).focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Keep the remark, and give the keys back to the screen."""
        self.practice.remark(event.value)
        event.input.disabled = True
        self.set_focus(None)


def closing_text(view: View) -> str:
    """The best thing, tomorrow's thing, what changed, a sentence each."""
    played = any(line.rounds for line in view.done)
    return "\n".join(view.closing) if played else "Nothing was played."


def done_text(view: View) -> str:
    """What was played, in the routine's order, and how often."""
    rows = [line for line in view.done if line.rounds]
    widest = max((len(line.title) for line in rows), default=0)
    return "\n".join(
        f"{line.title:{widest}}   {line.rounds} round{'s' * (line.rounds > 1)}" for line in rows
    )


def kept_text(view: View) -> str:
    """Where it is written down; nothing where nothing was played."""
    return f"Kept in {view.journal_path}" if done_text(view) else ""
