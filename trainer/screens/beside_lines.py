"""What lies beside the routine, told in lines for a screen reader: then and now, the teacher first.

Nothing is said while somebody plays or a take is heard.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

from trainer.music.names import NoteNames, renamed
from trainer.screens.play_along_screen import ASKED as TURN_ASKED
from trainer.screens.play_along_screen import GONE, TEACHER_LATER, TURN, tempo_words
from trainer.screens.play_along_screen import VOLUME as WITH_HEADPHONES
from trainer.screens.session_requests import Practice
from trainer.screens.then_and_now_screen import ASKED, HEAR_LATER, TITLE, VOLUME, TwoTakes
from trainer.session.view import (
    NOTHING_SOUNDS,
    PlayAlongAsk,
    PlayAlongStep,
    PlayAlongView,
    Stage,
    View,
)

ReadKey = Callable[[], str | None]
"""The next key, or None when none was pressed for a moment."""
Say = Callable[[str], None]
Tell = Callable[[View], Iterable[str]]
"""What there is to say of a view that was not said yet."""
BACK = ("q", "escape")
GO_ON = ("pagedown", "space", "enter")


def beside_in_lines(
    practice: Practice,
    names: NoteNames,
    tell: Tell,
    obey: Callable[[View, str], None],
    read_key: ReadKey,
    say: Say,
) -> None:
    """Tell and obey keys until the student goes back; what happens to the device is told too."""
    notices = len(practice.view().notices)
    while (key := read_key()) not in BACK:
        view = practice.view()
        for line in (*view.notices[notices:], *tell(view)):
            say(renamed(line, names))
        notices = len(view.notices)
        if key is not None:
            obey(view, key)


def in_a_line(parts: str) -> str:
    """What is drawn with air between, as it is read aloud."""
    return parts.replace("   ", ", ")


def then_and_now_in_lines(
    practice: Practice, names: NoteNames, takes: TwoTakes | str, read_key: ReadKey, say: Say
) -> None:
    """Two takes of the same, or the sentence that says why there are none."""
    if practice.view().stage not in (*NOTHING_SOUNDS, Stage.ENDED):
        say(HEAR_LATER)
        return
    if isinstance(takes, str):
        say(takes)
        return
    for line in (f"{TITLE}: {takes.title}.", *_numbered(takes), takes.changed, VOLUME):
        say(renamed(line, names))
    say(in_a_line(ASKED))
    places: Mapping[str, tuple[int, ...]] = {**dict.fromkeys(GO_ON, (0, 1)), "1": (0,), "2": (1,)}

    def obey(_view: View, key: str) -> None:
        if key in places:
            practice.play_side_by_side(places[key])

    practice.set_side_by_side(takes.files)
    beside_in_lines(practice, names, lambda _: (), obey, read_key, say)
    practice.set_side_by_side(())


def _numbered(takes: TwoTakes) -> Iterator[str]:
    for number, name in enumerate(takes.names, start=1):
        yield f"{number}. {name}."


ASKS = {
    **dict.fromkeys(GO_ON, PlayAlongAsk.NEXT),
    "1": PlayAlongAsk.TEACHER,
    "2": PlayAlongAsk.STUDENT,
    "a": PlayAlongAsk.AGAIN,
    "t": PlayAlongAsk.TAKE_TEMPO,
    "s": PlayAlongAsk.KEEP,
}


def play_along_in_lines(practice: Practice, names: NoteNames, read_key: ReadKey, say: Say) -> None:
    """The teacher plays what is due, the student answers, and what differs is told."""
    if practice.view().stage not in (Stage.READY, Stage.PAUSED):
        say(TEACHER_LATER)
        return
    say(WITH_HEADPHONES)
    say(GONE)

    def obey(_view: View, key: str) -> None:
        if key in ASKS:
            practice.ask_play_along(ASKS[key])

    practice.play_along(True)
    beside_in_lines(practice, names, PlayAlongTeller(), obey, read_key, say)
    practice.play_along(False)


class PlayAlongTeller:
    """Whose turn it is, told once; then what differs."""

    def __init__(self) -> None:
        self._told: tuple[PlayAlongStep, tuple[str, ...]] | None = None

    def __call__(self, view: View) -> Iterator[str]:
        """What there is to say that was not said yet."""
        along = view.play_along
        if along is not None and (now := (along.step, along.words)) != self._told:
            before, self._told = self._told, now
            same_step = before is not None and before[0] is along.step
            yield from _new_of(along, () if before is None else before[1], same_step=same_step)


def _new_of(along: PlayAlongView, told: tuple[str, ...], *, same_step: bool) -> Iterator[str]:
    yield from (words for words in along.words if not (same_step and words in told))
    if same_step:
        return
    if along.teacher_bpm is not None:
        yield tempo_words(along)
    yield f"{TURN[along.step]}."
    yield in_a_line(TURN_ASKED[along.step])
