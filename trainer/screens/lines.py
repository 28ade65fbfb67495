"""Practice told in lines, one an event, for a screen reader: no picture, no cursor that moves.

Nothing is said while a round sounds, so that the player can listen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction

from trainer.app.first_run import FirstMorning, FirstMorningView
from trainer.app.first_run import FirstRunStep as FirstStep
from trainer.coach.advice import Felt
from trainer.music.names import NoteNames, named, renamed
from trainer.music.note import Note
from trainer.routine.along import along_sentences
from trainer.screens.after_screen import next_words
from trainer.screens.beside_lines import (
    GO_ON,
    ReadKey,
    Say,
    play_along_in_lines,
    then_and_now_in_lines,
)
from trainer.screens.drawing.asked_words import asked_words
from trainer.screens.drawing.last_time_line import beside_words
from trainer.screens.end_screen import closing_text, done_text, kept_text
from trainer.screens.session_requests import Practice
from trainer.screens.then_and_now_screen import TwoTakes
from trainer.screens.today_screen import AWAITED
from trainer.session.view import CheckStep, SoundCheckView, Stage, View

HELP = (
    ("PageDown, Space, Enter", "go on"),
    ("t", "tell the notes of the round"),
    ("a", "again"),
    ("-", "slower"),
    ("+", "faster"),
    ("n", "next exercise"),
    ("p", "pause, and go on"),
    ("PageUp", "the exercise before"),
    ("g", "an exercise by its number: g, the number, Enter"),
    ("r", "rest a minute"),
    ("h, l", "hear your round again; slower, or the teacher first"),
    ("e", "the figures behind the sentence"),
    ("1, 2, 3", "it felt easy, fine, hard"),
    ("d", "I heard it differently"),
    ("u, k", "the tuner; then and now"),
    ("w", "the week"),
    ("q", "end; all is kept"),
)
VALUES = {
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
    Fraction(1, 4): "sixteenth",
    Fraction(1, 8): "thirty-second",
    Fraction(1, 3): "triplet eighth",
    Fraction(1, 6): "triplet sixteenth",
}
"""Note values by their length in quarter-note beats."""


class Teller:
    """Turns one view after another into the lines that are new in it."""

    def __init__(self, names: NoteNames) -> None:
        self._names = names
        self._told: object = None
        self._notices = 0

    def tell(self, view: View) -> list[str]:
        """What there is to say that was not said yet."""
        lines = list(view.notices[self._notices :])
        self._notices = len(view.notices)
        asked = None if view.sound_check is None else view.sound_check.words
        state = (
            view.stage, view.exercise_index, view.round, view.advice, asked, view.awaits_sound
        )  # fmt: skip
        if view.stage not in (Stage.PLAYING, Stage.WEIGHING) and state != self._told:
            self._told = state
            lines += _of_stage(view)
        return [renamed(line, self._names) for line in lines]

    def notes(self, view: View) -> str:
        """The round's notes by name, with their breaths."""
        if view.round is None:
            return "There are no notes here."
        lengths = [None, *(note.length for note in view.round.notes)]
        beat = view.round.beat_quarters
        pairs = zip(view.round.notes, lengths, strict=False)
        return ", ".join(
            self._note(note, beat if note.length != before else None) for note, before in pairs
        )

    def _note(self, note: Note, new_in: Fraction | None) -> str:
        """'sixteenth E4', 'F#4': a length is told where it changes, given the beat in quarters."""
        value = "" if new_in is None else f"{length_words(note.length * new_in)} "
        return value + named(note.pitch, self._names) + ", breath" * note.breath_after


def length_words(quarters: Fraction) -> str:
    """A length in quarter notes as a note value, or in quarters where it is none."""
    if quarters in VALUES:
        return VALUES[quarters]
    if (plain := quarters * Fraction(2, 3)) in VALUES:
        return f"dotted {VALUES[plain]}"
    return f"{quarters} of a quarter" if quarters < 1 else f"{quarters} quarters"


def _of_stage(view: View) -> Iterator[str]:
    match view.stage:
        case Stage.TODAY if view.awaits_sound:
            yield AWAITED
        case Stage.TODAY:
            yield from _today(view)
        case Stage.SOUND_CHECK if view.sound_check is not None:
            yield from _sound_check(view, view.sound_check)
        case Stage.READY:
            yield from _ready(view)
        case Stage.COUNT_IN if view.round is not None:
            beats = f"{view.round.count_in_beats} beats at {view.round.tempo_bpm:.0f}"
            yield f"Count-in, {beats}." if view.round.in_time else "No beat: begin when you like."
        case Stage.AFTER:
            yield from _after(view)
        case Stage.REST:
            yield f"Flute down. Rest, {view.seconds_left or 0:.0f} seconds."
        case Stage.PAUSED:
            yield "Paused. Space counts in again, from the beginning of the round."
        case Stage.READING:
            yield from view.words.strip().splitlines()
            yield "Space goes on."
        case Stage.ENDED:
            told = (closing_text(view), done_text(view), kept_text(view))
            yield from filter(None, "\n".join(told).splitlines())
            yield "How did it feel? 1 easy, 2 fine, 3 hard. w for the week, q to leave."


def _today(view: View) -> Iterator[str]:
    today = view.today
    if today.who_plays:
        yield f"{today.who_plays}. Nothing is written into your own journal."
    yield f"{today.title}, {today.minutes_words}."
    yield f"{today.instrument}, A4 = {today.a4_hz:g} Hz."
    yield from today.words.strip().splitlines()
    if today.from_teacher:
        yield f"From your teacher: {today.from_teacher}"
    if today.lesson:
        yield today.lesson
    for number, line in enumerate(today.lines, start=1):
        last = "" if line.last_bpm is None else f"last {line.last_bpm:.0f}"
        yield f"{number}. {', '.join(filter(None, (line.title, line.news, line.detail, last)))}."
    yield from today.cautions
    if not view.listens:
        yield "There is no microphone: practice goes on unheard."
    yield "Space begins. Question mark tells the keys."


def _sound_check(view: View, check: SoundCheckView) -> Iterator[str]:
    if check.step is CheckStep.QUIET:
        yield view.why_checked
    yield from check.words.splitlines()
    if check.step is CheckStep.QUIET:
        yield "Space skips it."
    elif check.step is CheckStep.DONE:
        yield "Space goes on, a checks once more."


def _ready(view: View) -> Iterator[str]:
    if view.round is None:
        return
    asked = ", ".join(asked_words(view.round))
    yield f"{view.exercise_index + 1} of {len(view.today.lines)}: {view.round.title}, {asked}."
    yield from along_sentences(view.round)
    yield from view.round.words.strip().splitlines()
    yield "Begin to play, or Space for the count-in. t tells the notes."


def _after(view: View) -> Iterator[str]:
    if view.advice is not None:
        yield view.advice.sentence
    if view.last_time is not None:
        yield beside_words(view.last_time)
    if view.proposal is not None:
        yield next_words(view)
    if view.seconds_left is not None:
        yield f"Counting in by itself in {view.seconds_left:.0f} seconds."


def practise_in_lines(
    practice: Practice,
    names: NoteNames,
    week_text: Callable[[], str],
    tune: Callable[[], None],
    then_and_now: Callable[[], TwoTakes | str],
    read_key: ReadKey,
    say: Say,
) -> None:
    """Tell the session and obey keys, until the student leaves after its end.

    `tune` tells the tuner, until the student comes back from it; `then_and_now` gives two takes or
    why there are none.
    """
    teller = Teller(names)
    while True:
        for line in teller.tell(practice.view()):
            say(line)
        key = read_key()
        if key is None:
            continue
        stage = practice.view().stage
        if key == "q" and stage in (Stage.TODAY, Stage.ENDED):
            return
        if key == "g":
            practice.go_to(_number(read_key) - 1)
            continue
        if key == "u":
            tune()
            continue
        if key == "k":
            then_and_now_in_lines(practice, names, then_and_now(), read_key, say)
            continue
        if key == "l" and stage is not Stage.AFTER:
            play_along_in_lines(practice, names, read_key, say)
            continue
        for line in _obey(practice, key, teller, week_text):
            say(line)


def _number(read_key: ReadKey) -> int:
    """The digits that follow, up to another key; 0 where there are none."""
    digits = ""
    while (key := read_key()) is None or (key.isdecimal() and key.isascii()):
        digits += key or ""
    return int(digits or 0)


def _obey(
    practice: Practice, key: str, teller: Teller, week_text: Callable[[], str]
) -> Iterator[str]:
    commands = _commands(practice)
    if key in commands:
        commands[key]()
    elif key == "w":
        yield from week_text().splitlines()
    elif key == "t":
        yield teller.notes(practice.view())
    elif key == "e":
        advice = practice.view().advice
        yield from advice.evidence if advice is not None else ("There are no figures yet.",)
    elif key == "?":
        yield from (f"{keys}: {meaning}." for keys, meaning in HELP)


def _commands(practice: Practice) -> dict[str, Callable[[], None]]:
    return {
        **dict.fromkeys(GO_ON, practice.advance),
        "a": practice.again,
        "-": practice.slower,
        "+": practice.faster,
        "=": practice.faster,
        "n": practice.skip,
        "p": practice.pause,
        "pageup": practice.go_back,
        "r": practice.rest,
        "h": practice.hear_again,
        "l": lambda: practice.hear_again(0.5),
        "1": lambda: practice.felt(Felt.EASY),
        "2": lambda: practice.felt(Felt.FINE),
        "3": lambda: practice.felt(Felt.HARD),
        "d": practice.disagree,
        "q": practice.stop,
    }


def first_morning_in_lines(morning: FirstMorning, read_key: ReadKey, say: Say) -> bool:
    """Ask the newcomer in lines; False when they left."""
    told: object = None
    while True:
        morning.tick()
        view = morning.view()
        if (now := (view.step, view.words, view.chosen)) != told:
            for line in _asked(view, same_question=told is not None and now[:2] == told[:2]):  # type: ignore[index]
                say(line)
            told = now
        match read_key():
            case "q":
                return False
            case "up" | "-":
                morning.choose(-1)
            case "down" | "+":
                morning.choose(1)
            case "n":
                morning.skip()
            case "pagedown" | "space" | "enter" if view.step is FirstStep.DONE:
                return True
            case "pagedown" | "space" | "enter":
                morning.advance()


def _asked(view: FirstMorningView, *, same_question: bool) -> Iterator[str]:
    chosen = view.choices[view.chosen] if view.choices else ""
    if same_question:
        yield chosen
        return
    yield f"{view.number} of {view.of}. {view.words}"
    if chosen:
        yield f"{chosen}. Down and Up move through {len(view.choices)} answers, Space takes one."
