"""The look at the microphone before the first round: what to do, and the level."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from trainer.screens.drawing.meter import meter_rows
from trainer.screens.stage_screen import GO_ON_SAID, StageScreen
from trainer.session.view import CheckStep, SoundCheckView, View


class SoundCheckScreen(StageScreen):
    """One thing to do at a time; PageDown goes past all of it."""

    BINDINGS = [
        GO_ON_SAID,
        Binding("a", "again", "Again", id="again", tooltip="Check once more"),
        Binding("n", "skip", "Leave it", id="skip", show=False, tooltip="Go on without the check"),
    ]

    def matter(self) -> ComposeResult:
        """Why, what to do, how loud, and the way out."""
        yield Static(id="words", markup=False)
        yield Static(id="sentence", markup=False)
        yield Static(id="answers", markup=False)
        yield Static(id="prompt", markup=False)

    def title_of(self, _view: View) -> str:
        """No exercise yet."""
        return "The microphone"

    def show(self, view: View) -> None:
        """The step as it stands."""
        super().show(view)
        check = view.sound_check
        if check is None:
            return
        done = check.step is CheckStep.DONE
        self.write("#words", view.why_checked, layout=True)
        self.write("#sentence", check.words, layout=True)
        self.write("#answers", "" if done else _meter(check))
        self.write("#prompt", "PageDown to go on" if done else "PageDown skips it")


def _meter(check: SoundCheckView) -> str:
    return "\n".join(meter_rows(check.level_db, check.zone_db, check.seconds_left))
