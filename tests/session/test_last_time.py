"""After a round: how it stands beside the last time, in this session and from the journal."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tests.session.conftest import DAY
from trainer.coach.judge import judge
from trainer.ear.heard import HeardNote, State, Take
from trainer.journal.read import read_session
from trainer.player.habits import EXAMPLES
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.session.exercise_progress import enter
from trainer.session.history_from_journal import history_of
from trainer.session.round_review import Outcome, RoundReviewer
from trainer.session.view import Stage

Build = Callable[..., Any]
STEADY = """
title: One round
exercises: [{scale: hill, key: D, range: one octave, tempo: 96, articulations: [slurred]}]
"""


def after_first_round(practice: Any) -> Any:
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    return practice.until(Stage.AFTER)


def test_the_first_time_nothing_is_compared(practice_of: Build) -> None:
    assert after_first_round(practice_of(STEADY)).last_time is None


def test_a_round_played_again_stands_beside_the_one_before(practice_of: Build) -> None:
    practice = practice_of(STEADY)
    after_first_round(practice)
    practice.do(practice.session.slower)
    assert practice.until(Stage.PLAYING).last_note_cents == (), "at another tempo"
    last = practice.until(Stage.AFTER).last_time
    assert (last.when, last.tempo_bpm) == ("last time", 96.0)
    assert [figure.unit for figure in last.figures] == ["%", "ms", "cents"]


def test_without_a_microphone_nothing_is_compared(practice_of: Build) -> None:
    practice = practice_of(STEADY, listens=False)
    after_first_round(practice)
    practice.do(practice.session.again)
    practice.until(Stage.PLAYING)
    assert practice.until(Stage.AFTER).last_time is None


def test_a_note_lost_to_the_ear_is_no_change() -> None:
    """One hole in a line that goes on is not judged: not beside the last time, on the screen or in
    the journal."""
    routine, problems = read_routine(STEADY.replace("one octave", "full"), "steady.yaml")
    assert routine is not None, problems
    course = enter(plan(routine, DAY, 0)[0], None)
    round_, reviewer = course.due, RoundReviewer(None)
    assert round_ is not None

    def outcome(*missed: int) -> Outcome:
        notes = [
            HeardNote(note.index, note.pitch, State.MISSED)
            if note.index in missed
            else HeardNote(
                note.index,
                note.pitch,
                State.PLAYED,
                midi=float(note.pitch.midi),
                onset_s=1 + float(note.beat) * round_.beat_s,
                end_s=1 + (float(note.beat) + 0.9 * float(note.length)) * round_.beat_s,
                cents=0.0,
                level_db=-24.0,
                start=note.start,
                attack_s=0.03,
            )
            for note in round_.notes
        ]
        take = Take(48000, 440.0, 1.0, tuple(notes))
        heard = take, judge(round_, take)
        return reviewer.outcome(course, round_, heard, datetime(2026, 3, 2, tzinfo=UTC), 9, None)

    outcome()
    now = outcome(7)
    assert now.marks is not None
    assert now.last_time is not None
    assert [note.index for note in now.marks.notes if not note.judged] == [7]
    (clean, *_) = now.last_time.figures
    assert (clean.before, clean.now) == (100, 100)
    stood = reviewer.last_note_cents(round_)
    assert [index for index, cents in enumerate(stood) if cents is None] == [7]
    shown = [] if now.take is None else [note.state for note in now.take.expected_notes]
    assert [note.state for note in now.log.notes] == shown
    assert shown.count(State.NOT_JUDGED) == 1
    assert State.MISSED not in shown


@pytest.mark.parametrize("habits", [None, EXAMPLES["student"]])
def test_the_journal_gives_the_figures_the_session_had(practice_of: Build, habits: Any) -> None:
    practice = practice_of(STEADY, habits)
    after_first_round(practice)
    (now,) = practice.session._walk._place._lesson._played
    (file,) = practice.paths.journal.glob("*.yaml")
    log, problems = read_session(file)
    assert problems == ()
    history = history_of([log], DAY + timedelta(days=1))
    (then,) = history.days[0].rounds
    assert (then.notes, then.articulation, then.number) == (now.notes, now.articulation, 1)
    for name in ("clean_share", "evenness_ms", "within_cents"):
        assert getattr(then.figures, name) == pytest.approx(getattr(now.figures, name), abs=0.1)
    assert then.note_cents == pytest.approx(now.note_cents, abs=0.1)
    again = practice_of(STEADY, habits, history=history)
    again.do(again.session.advance)
    assert again.session.view().last_note_cents == ()
    again.do(again.session.advance)
    assert again.until(Stage.PLAYING).last_note_cents == then.note_cents
    last = again.until(Stage.AFTER).last_time
    assert (last.when, last.tempo_bpm) == ("yesterday", None)
    assert all(abs(figure.before - figure.now) <= 1 for figure in last.figures)
