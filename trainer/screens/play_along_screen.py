"""The teacher plays first, the student answers: whose turn it is, and what differs."""

from __future__ import annotations

from functools import partial
from textwrap import wrap

from textual.binding import Binding

from trainer.music.names import NoteNames, renamed
from trainer.screens.beside_screen import AIR, INDENT, OPENING, BesideScreen, page_rows
from trainer.screens.drawing.canvas import Ink, Row
from trainer.screens.session_requests import Practice
from trainer.screens.widgets.key_line import HELP_UNSEEN
from trainer.session.view import PlayAlongAsk, PlayAlongStep, PlayAlongView

TITLE = "The teacher first"
TEACHER_LATER = "The teacher plays first where a round is ready, or in a pause (p)."
TURN = {
    PlayAlongStep.TEACHER: "The teacher plays",
    PlayAlongStep.STUDENT: "Now you",
    PlayAlongStep.COMPARED: "Both, side by side",
}
ASKED = {
    PlayAlongStep.TEACHER: "PageDown when the teacher has played   Escape back",
    PlayAlongStep.STUDENT: "PageDown when you have played   Escape back",
    PlayAlongStep.COMPARED: "PageDown: hear both   a again   t that tempo   s keep   Escape back",
}
VOLUME = "Headphones: turn the volume down before you listen."
GONE = (
    "Nothing of this is written down, and both sounds are gone when you go back, unless s keeps "
    "them."
)
NAMES = ("the teacher", "you")


class PlayAlongScreen(BesideScreen):
    """Whose turn it is in a few words; then a sentence for each thing that differs."""

    BINDINGS = [
        Binding("pagedown,space,enter", "ask('next')", "Go on", id="next", tooltip="Played; hear"),
        Binding("1", "ask('teacher')", "Teacher", id="teacher", tooltip="Hear the teacher"),
        Binding("2", "ask('student')", "Me", id="student", tooltip="Hear yourself"),
        Binding("a", "ask('again')", "Again", id="again", tooltip="Play it once more"),
        Binding("t", "ask('take tempo')", "Tempo", id="tempo", tooltip="At the teacher's tempo"),
        Binding("s", "ask('keep')", "Keep", id="keep", tooltip="Keep both sounds"),
        HELP_UNSEEN,
        Binding("escape,q,l", "leave", "Back", id="back", tooltip="Back to practice"),
    ]

    def __init__(self, practice: Practice, names: NoteNames) -> None:
        super().__init__(practice)
        self._names = names

    def use(self, *, wanted: bool) -> None:
        """Listen to the teacher, or go back."""
        self.practice.play_along(wanted)

    def look(self) -> None:
        """Show whose turn it is, or what came of it."""
        view = self.practice.view().play_along
        self.write("#title", TITLE)
        self.write("#prompt", OPENING if view is None else ASKED[view.step])
        self.write("#notice", self.told())
        if view is not None:
            self.draw(partial(play_along_rows, view, self._names))

    def action_ask(self, asked: str) -> None:
        """Ask for it."""
        self.practice.ask_play_along(PlayAlongAsk(asked))


def play_along_rows(
    view: PlayAlongView, names: NoteNames, width: int, height: int
) -> tuple[Row, ...]:
    """The line, whose turn it is, and the sentences."""
    columns = width - 2 * INDENT
    lines = [AIR, (renamed(view.title, names), Ink.QUIET), AIR, (_turn(view), Ink.WORDS), AIR]
    for sentence in view.words:
        lines += [(line, Ink.WORDS) for line in wrap(renamed(sentence, names), columns)]
    if view.teacher_bpm is not None:
        lines += [AIR, (tempo_words(view), Ink.QUIET)]
    lines += [AIR, *((line, Ink.QUIET) for each in (VOLUME, GONE) for line in wrap(each, columns))]
    return page_rows(lines, width, height)


def tempo_words(view: PlayAlongView) -> str:
    """The teacher's tempo, once it is known, beside the routine's."""
    return f"The teacher's tempo is {view.teacher_bpm:.0f}, the routine's {view.asked_bpm:.0f}."


def _turn(view: PlayAlongView) -> str:
    """Whose turn it is and for how long, or which of the two sounds."""
    if view.side is not None and view.side.sounding is not None:
        return f"▶ {NAMES[view.side.sounding]}"
    if view.step is PlayAlongStep.COMPARED:
        return TURN[view.step]
    return f"● {TURN[view.step]}   {view.seconds:.0f} seconds"
