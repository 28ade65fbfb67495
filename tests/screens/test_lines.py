"""Practice in lines: a whole routine without a picture, and a first morning."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import groupby
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.screens.test_then_and_now import two
from tests.screens.test_tuner_screen import tone
from tests.session.conftest import TICK_FRAMES
from trainer.app.first_run import FirstMorning
from trainer.app.newcomers_devices import devices_on
from trainer.app.settings import Settings
from trainer.music.names import Language, NoteNames
from trainer.screens.keyboard import key_of
from trainer.screens.lines import HELP, Teller, first_morning_in_lines, practise_in_lines
from trainer.screens.play_along_screen import TEACHER_LATER
from trainer.screens.then_and_now_screen import TwoTakes
from trainer.screens.tuner_lines import tune_in_lines
from trainer.session.view import Stage
from trainer.sound.simulated import SimulatedPort

Build = Callable[..., Any]
DRAWN = re.compile(r"[\u2500-\u259f\u25a0-\u25ff\x1b]")
MOST_LOOKS = 5000
ANY = NoteNames()


def told(
    practice: Any,
    keys: Callable[[Any], str | None],
    names: NoteNames,
    takes: TwoTakes | str = "Takes are not kept.",
) -> list[str]:
    """Everything said while the keys are pressed and the clock goes on."""
    lines: list[str] = []
    looks = iter(range(MOST_LOOKS))

    def read_key() -> str | None:
        next(looks)
        practice.port.advance(TICK_FRAMES)
        practice.session.tick()
        return keys(practice.view())

    def tune() -> None:
        tune_in_lines(practice.session, names, (), lambda *_: None, read_key, lines.append)

    practise_in_lines(
        practice.session, names, lambda: "The week", tune, lambda: takes, read_key, lines.append
    )
    return lines


def pedal_then_leave() -> Callable[[Any], str | None]:
    """PageDown whenever something waits; at the end how it felt, and away."""
    last = iter(["2", "w", "q"])

    def key(view: Any) -> str | None:
        if view.stage is Stage.ENDED:
            return next(last)
        return None if view.stage in (Stage.COUNT_IN, Stage.PLAYING) else "pagedown"

    return key


def test_a_whole_routine_in_lines(practice_of: Build) -> None:
    practice = practice_of()
    lines = told(practice, pedal_then_leave(), NoteNames())
    assert not [line for line in lines if DRAWN.search(line) or "\n" in line]
    text = "\n".join(lines)
    for words in (
        "Two rounds and a word, 1 to 2 minutes.",
        "1 of 3: D major, one octave, slurred, at 96.",
        "Count-in, ",
        "Breathe out slowly.",
        "Flute down. Rest, 30 seconds.",
        "Kept in",
        "The week",
    ):
        assert words in text
    (file,) = practice.paths.journal.glob("*.yaml")
    kept = yaml.safe_load(file.read_text())
    assert len(kept["rounds"]) >= 2
    assert kept["felt"] == "fine"
    assert text.count("Counting in by itself") == len(kept["rounds"])


def test_the_tuner_in_lines_tells_a_note_when_it_has_settled(practice_of: Build) -> None:
    practice = practice_of(plays=False)
    seconds = iter(range(MOST_LOOKS))
    keys = {1: "u", 150: "d", 160: "f", 200: "q", 210: "q"}

    def key(_view: Any) -> str | None:
        now = next(seconds)
        if now == 10:
            flat = tone(880 * 2 ** (-12 / 1200), 4.0)
            practice.port.sing(flat, practice.port.now_frame())
        return keys.get(now)

    lines = told(practice, key, NoteNames(Language.GERMAN))
    assert lines.count("A5, 12 cents flat") == 1, "held, it is told once"
    assert "Tuner, A4 = 440, above A5, pure" in lines
    assert "Tuner, A4 = 440, above A5 with its fifth, pure" in lines
    assert practice.view().tuner is None
    assert not [line for line in lines if DRAWN.search(line)]


def at_looks(keys: dict[int, str], looks: list[Any]) -> Callable[[Any], str | None]:
    """These keys at these looks; each view is kept."""

    def key(view: Any) -> str | None:
        looks.append(view)
        return keys.get(len(looks))

    return key


def test_then_and_now_in_lines(practice_of: Build, tmp_path: Path) -> None:
    """Why there is nothing to hear, else the old one, the new one, and the new one again."""
    practice, looks = practice_of(plays=False), list[Any]()
    assert "Takes are not kept." in told(practice, at_looks({3: "k", 5: "q"}, []), ANY)
    keys = {3: "k", 10: "space", 200: "2", 240: "q", 250: "q"}
    lines = told(practice, at_looks(keys, looks), ANY, two(tmp_path))
    assert "1. Sunday, 4 October, at 60." in lines
    assert "Now: even." in lines
    heard = [view.side_by_side.sounding for view in looks if view.side_by_side is not None]
    assert [place for place, _ in groupby(heard) if place is not None] == [0, 1, 1]
    assert practice.view().side_by_side is None
    assert not [line for line in lines if DRAWN.search(line)]


def test_the_teacher_first_in_lines(practice_of: Build) -> None:
    """From a round that is ready; what can't be compared is said, and q goes back."""
    practice, looks = practice_of(plays=False), list[Any]()
    keys = {2: "l", 5: "space", 20: "l", 60: "space", 100: "q", 110: "q", 120: "q"}
    lines = told(practice, at_looks(keys, looks), ANY)
    assert TEACHER_LATER in lines, "not before the routine"
    assert lines.count("The teacher plays.") == 1
    assert [line for line in lines if line.startswith("Too little of that was heard")]
    assert any(view.play_along is not None for view in looks)
    assert practice.view().play_along is None


def test_nothing_is_said_while_it_sounds(practice_of: Build) -> None:
    practice = practice_of()
    teller = Teller(NoteNames())
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    teller.tell(practice.view())
    while practice.view().stage is Stage.PLAYING:
        assert teller.tell(practice.view()) == []
        practice.pass_time(0.1)


def test_a_fault_is_said_at_once_and_once(practice_of: Build) -> None:
    practice = practice_of()
    teller = Teller(NoteNames())
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    teller.tell(practice.view())
    practice.port.fail("Sound was lost for a moment.")
    practice.pass_time(0.05)
    assert teller.tell(practice.view()) == ["Sound was lost for a moment."]
    assert teller.tell(practice.view()) == []


def test_notes_are_told_by_the_students_names(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    german = Teller(NoteNames(Language.GERMAN))
    assert german.notes(practice.view()).startswith("eighth D4, sixteenth E4, Fis4, G4, A4, H4")
    assert Teller(NoteNames()).notes(practice.view()).startswith("eighth D4, sixteenth E4, F#4")


@pytest.mark.parametrize(
    ("sent", "key"),
    [("\x1b[6~", "pagedown"), (" ", "space"), ("\r", "enter"), ("a", "a"), ("", "q"), ("hh", "h")],
)
def test_keys_as_a_terminal_sends_them(sent: str, key: str) -> None:
    assert key_of(sent) == key


def test_every_key_told_does_something(practice_of: Build) -> None:
    practice = practice_of()
    pressed: Iterator[str] = iter(["?", "e", "t", "q", "q"])
    lines = told(practice, lambda _: next(pressed), NoteNames())
    assert all(f"{keys}: {meaning}." in lines for keys, meaning in HELP)


def test_a_first_morning_in_lines() -> None:
    morning = FirstMorning(
        lambda: devices_on(SimulatedPort(listens=False), lambda _: None), Settings()
    )
    pressed = iter(["down", "space", "space", "space", "space"])
    lines: list[str] = []
    assert first_morning_in_lines(morning, lambda: next(pressed), lines.append)
    assert morning.settings.instrument == "C flute with B foot"
    assert "C flute with B foot" in lines
    assert lines[0] == "1 of 5. Which flute do you play?"
    assert not any(DRAWN.search(line) for line in lines)
