"""Partner and student in turns: who sounds when, and what the ear is told of it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from tests.session.conftest import Practice
from tests.sweeps import mostly_slow
from trainer.ear.heard import State
from trainer.session.view import Stage

Build = Callable[..., Practice]
LINE = """
title: Answers
exercises:
- passage: line
  key: G
  tempo: 96
  partner: {asked}
  notes: |
    quarter G4 A4 B4 C5 | half D5 B4 | quarter A4 B4 C5 D5 | whole G4
"""


def at_the_count_in(practice_of: Build, asked: str, **how: bool) -> Practice:
    practice = practice_of(LINE.format(asked=asked), **how)
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    return practice


@pytest.mark.parametrize(
    "asked", mostly_slow(["call and answer by phrases", "call and answer", "in turns"], 1)
)
def test_only_the_students_notes_are_expected_and_all_are_heard(
    practice_of: Build, asked: str
) -> None:
    practice = at_the_count_in(practice_of, asked)
    view = practice.until(Stage.AFTER)
    assert view.round is not None
    assert view.take is not None
    assert [note.index for note in view.take.expected_notes] == [
        note.index for note in view.round.notes
    ]
    assert {note.state for note in view.take.expected_notes} == {State.PLAYED}


def test_the_partner_sounds_in_its_bars_and_not_in_the_students(practice_of: Build) -> None:
    practice = at_the_count_in(practice_of, "in turns", plays=False)
    practice.until(Stage.PLAYING)
    first = practice.port.now_frame()
    practice.pass_time(11.0)
    bar = round(4 * 60 / 96 * practice.port.sample_rate_hz)

    def level(number: int) -> float:
        inside = practice.port.played(first + number * bar + bar // 4, first + (number + 1) * bar)
        return float(np.sqrt(np.median(inside**2)))

    assert min(level(0), level(2)) > 0.02
    assert max(level(1), level(3)) < 0.001


def test_a_partner_that_comes_back_through_the_microphone_is_not_taken_for_the_student(
    practice_of: Build,
) -> None:
    practice = practice_of(LINE.format(asked="call and answer"), plays=False)
    practice.port.bleed = 0.1
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    take = practice.until(Stage.AFTER).take
    assert take is not None
    assert State.PLAYED not in {note.state for note in take.expected_notes}


@pytest.mark.parametrize("bleed", mostly_slow([0.3, 0.1], 1))
def test_through_a_loudspeaker_the_students_notes_are_heard_as_well(
    practice_of: Build, bleed: float
) -> None:
    practice = practice_of(LINE.format(asked="call and answer"))
    practice.port.bleed = bleed
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    take = practice.until(Stage.AFTER).take
    assert take is not None
    assert {note.state for note in take.expected_notes} == {State.PLAYED}
    assert practice.measures()["evenness_ms"] < 5
    assert take.warnings == ()


def test_the_partners_own_note_is_due_while_it_plays(practice_of: Build) -> None:
    practice = at_the_count_in(practice_of, "in turns")
    practice.until(Stage.PLAYING)
    round_ = practice.view().round
    assert round_ is not None
    partners = {note.index for note in round_.partner_notes}
    assert practice.view().note_due in partners
    practice.pass_time(6.0)  # bar 3
    assert practice.view().note_due in partners
    practice.pass_time(3.0)  # bar 4
    assert practice.view().note_due not in partners


def test_playing_does_not_begin_what_the_partner_begins(practice_of: Build) -> None:
    practice = practice_of(LINE.format(asked="call and answer"), plays=False)
    practice.do(practice.session.advance)
    tone = 0.2 * np.sin(2 * np.pi * 392.0 * np.arange(96_000) / 48_000).astype(np.float32)
    practice.port.sing(tone, practice.port.now_frame() + 4800)
    practice.pass_time(1.5)
    assert practice.view().stage is Stage.READY
