"""Which two takes are set side by side, and what is said of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from demo.made_rounds import plain_round
from trainer.app.begun_walk import take_title
from trainer.app.keepsake import NONE_YET, NOT_KEPT, Keepsake, keepsake
from trainer.app.paths import Paths, user_paths
from trainer.app.settings import Settings, write_settings
from trainer.coach.advice import Topic
from trainer.ear.heard import State
from trainer.journal.log import NoteLog, RoundLog, SessionLog
from trainer.journal.write import JournalFile
from trainer.routine.round import RoundKind
from trainer.sound.kept_takes import keep_take, kept_takes

SUNDAY = date(2026, 11, 29)
RATE = 8000
NAMES = ("D5", "E5", "F#5", "G5", "A5", "B5", "C#6", "D6") * 2


def round_of(
    day: date, *, cents: float = 5.0, wrong: int = 0, tempo: float = 60.0, secure: bool = True,
    names: tuple[str, ...] = NAMES, minute: int = 0,
) -> RoundLog:  # fmt: skip
    """Sixteen notes, so many of them missed."""
    notes = tuple(
        NoteLog(name, State.MISSED)
        if place < wrong
        else NoteLog(name, cents=cents * (-1) ** place, off_ms=0.0)
        for place, name in enumerate(names)
    )
    return plain_round(
        notes,
        exercise_id="hill",
        title="D major, one octave",
        tempo_bpm=tempo,
        started=datetime(day.year, day.month, day.day, 17, minute, tzinfo=UTC),
        seconds=20.0,
        topic=Topic.SECURE if secure else Topic.NOTES,
    )


@pytest.fixture
def paths(tmp_path: Path) -> Paths:
    found = user_paths({"TRAINER_HOME": str(tmp_path)})
    write_settings(found.config_file, Settings(keep_takes=True))
    return found


def played(paths: Paths, *rounds: RoundLog, taken: bool = True) -> None:
    """A session of these rounds, each kept half a minute after it began."""
    journal = JournalFile.begin(paths.journal, SessionLog(rounds[0].started))
    for one in rounds:
        journal.add_round(one)
        if taken:
            at = one.started + timedelta(seconds=30)
            sound = np.full(RATE // 10, 0.1, np.float32)
            keep_take(paths.takes, sound, RATE, at, take_title(one), 100.0)


def days_ago(days: int) -> date:
    return SUNDAY - timedelta(days=days)


def found(paths: Paths) -> Keepsake:
    one = keepsake(paths, SUNDAY)
    assert isinstance(one, Keepsake), one
    return one


def test_the_oldest_that_compares_is_heard_before_the_weeks(paths: Paths) -> None:
    """Another tempo, other notes, and a round without its sound are no match; nor is one of the
    week a match that did not go well."""
    played(paths, round_of(days_ago(90)), taken=False)
    played(paths, round_of(days_ago(80), tempo=40.0))
    played(paths, round_of(days_ago(70), names=("D5", "E5") * 8))
    played(paths, round_of(days_ago(60), cents=14.0, wrong=4, secure=False))
    played(paths, round_of(days_ago(30)))
    played(paths, round_of(days_ago(2), tempo=66.0), round_of(days_ago(2), secure=False, minute=5))
    one = found(paths)
    assert one.then.started.date() == days_ago(60)
    assert (one.now.started.date(), one.now.tempo_bpm) == (days_ago(2), 66.0)
    assert one.then_words == "Wednesday 30 September, at 60"
    assert one.now_words == "Friday 27 November, at 66"
    assert one.changed == "Now more notes are clean and the notes stand nearer in tune."
    assert [file.name[:10] for file in (one.then_file, one.now_file)] == [
        "2026-09-30",
        "2026-11-27",
    ]


def test_figures_that_are_alike_are_said_to_be(paths: Paths) -> None:
    played(paths, round_of(days_ago(40)))
    played(paths, round_of(days_ago(1)))
    assert found(paths).changed == ("By the figures they are alike: what changed is for your ears.")


def test_what_got_worse_is_said_too(paths: Paths) -> None:
    played(paths, round_of(days_ago(40), cents=2.0))
    played(paths, round_of(days_ago(1), cents=12.0))
    assert found(paths).changed == "Now the notes stand further out of tune."


def test_a_take_that_made_room_is_not_mistaken_for_another(paths: Paths) -> None:
    """Two rounds alike a minute apart: the first one's sound is gone, and the second is its own."""
    day = days_ago(40)
    played(paths, round_of(day, cents=20.0), round_of(day, minute=1))
    kept_takes(paths.takes)[0].unlink()
    played(paths, round_of(days_ago(1)))
    assert found(paths).then.started.minute == 1


def test_why_there_is_nothing_to_hear(paths: Paths) -> None:
    assert keepsake(paths, SUNDAY) == NONE_YET
    played(paths, round_of(days_ago(40)))
    assert keepsake(paths, SUNDAY) == NONE_YET
    played(paths, round_of(days_ago(1), secure=False))
    played(paths, replace(round_of(days_ago(2)), kind=RoundKind.KNOT))
    assert keepsake(paths, SUNDAY) == NONE_YET


def test_where_takes_are_not_kept_the_student_hears_how(tmp_path: Path) -> None:
    assert keepsake(user_paths({"TRAINER_HOME": str(tmp_path)}), SUNDAY) == NOT_KEPT
