"""A rest, a pause, the teacher's words to read: few words, large, and what may come next."""

from __future__ import annotations

from dataclasses import dataclass

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Middle
from textual.widgets import Static

from trainer.screens.drawing.asked_words import asked_words
from trainer.screens.drawing.large_figures import figure_rows
from trainer.screens.stage_screen import GO_ON_SAID, TEACHER, StageScreen
from trainer.session.view import Stage, View

ROWS_A_SCALE = 12
"""The clock grows with the screen: a quarter of its height."""
LOOSEN = (
    "Let both arms hang and the fingers fall open. Drop the shoulders,\n"
    "turn the head slowly, look at something far away.\n"
    "Pain or numbness is a reason to stop, and to ask a physician."
)
"""How hands rest: common practice, no source; the caution as in `coach/care.py`."""
ANEW = "This round counts in again, from its beginning."


@dataclass(frozen=True)
class PauseWords:
    """What stands on the screen, from top to bottom."""

    said: str
    beside: str = ""
    """Quieter, beneath it."""
    then: str = ""
    """What comes next."""
    keys: str = ""


class PauseScreen(StageScreen):
    """Nothing sounds."""

    BINDINGS = [
        GO_ON_SAID,
        Binding("n", "skip", "Next", id="skip", show=False, tooltip="On to the next exercise"),
        TEACHER,
    ]

    def matter(self) -> ComposeResult:
        """Words, the time left when it is a rest, what comes then, the keys in words."""
        with Middle():
            yield Static(id="words", markup=False)
            yield Static(id="clock", markup=False)
            yield Static(id="beside", markup=False)
            yield Static(id="next", markup=False)
        yield Static(id="prompt", markup=False)

    def title_of(self, view: View) -> str:
        """Where in the routine this stands."""
        line = view.today.lines[view.exercise_index]
        return f"{view.exercise_index + 1} of {len(view.today.lines)}   {line.title}"

    def show(self, view: View) -> None:
        """The words once; the time as it goes."""
        super().show(view)
        words = pause_words(view)
        self.write("#words", words.said, layout=True)
        self.write("#beside", words.beside, layout=True)
        self.write("#next", words.then, layout=True)
        self.write("#prompt", words.keys)
        self.write("#clock", self._clock(view), layout=True)

    def _clock(self, view: View) -> str:
        if view.stage is not Stage.REST or view.seconds_left is None:
            return ""
        scale = max(1, self.app.size.height // ROWS_A_SCALE)
        seconds = int(view.seconds_left)
        return "\n".join(figure_rows(f"{seconds // 60}:{seconds % 60:02}", scale))


def pause_words(view: View) -> PauseWords:
    """What is said in a rest, a pause, before a text."""
    match view.stage:
        case Stage.REST:
            waits = "p starts the clock" if view.stands_still else "p stops the clock"
            keys = f"PageDown ends the rest   {waits}   n next exercise"
            return PauseWords("Flute down. Rest.", LOOSEN, f"Then: {_coming(view)}", keys)
        case Stage.PAUSED:
            keys = "PageDown counts in   PageUp the exercise before   g one by its number"
            return PauseWords("Paused.", ANEW, _coming(view), keys)
        case _:
            return PauseWords(view.words.strip(), keys="PageDown goes on")


def _coming(view: View) -> str:
    """The round due, else the entry that follows."""
    if view.round is not None:
        return ", ".join((view.round.title, *asked_words(view.round)))
    later = view.today.lines[view.exercise_index + 1 :]
    return later[0].title if later else "the end of the routine"
