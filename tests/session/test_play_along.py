"""The teacher plays first at the microphone, the student answers; both made apart from the player
the trainer carries (tests/ear/made_flute.py)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.ear.made_flute import Blown, blown, microphoned, sounded
from trainer.music.note import Start
from trainer.session.view import PlayAlongAsk, PlayAlongStep, PlayAlongView, Stage
from trainer.sound.port import Samples

HILL = """
title: T
exercises:
  - scale: hill
    key: D
    range: one octave
    tempo: 72
    rhythm: eighths
    articulations: [single]
"""
SCALE = [62, 64, 66, 67, 69, 71, 73, 74]
MIDIS = [*SCALE, *SCALE[-2::-1]]
RATE = 48000


def played(seed: int, bpm: float, second_half: float = 1.0) -> Samples:
    """Eighths (sixteenths at half the tempo); from the top on beats last so many times as long."""
    dice = np.random.default_rng(seed)
    even = blown(MIDIS, bpm / 2, Start.TONGUED, dice, first_s=0.5)
    middle_s = even[len(SCALE) - 1].onset_s

    def late(at_s: float) -> float:
        return at_s if at_s < middle_s else middle_s + second_half * (at_s - middle_s)

    notes: list[Blown] = [
        replace(note, onset_s=late(note.onset_s), end_s=late(note.end_s)) for note in even
    ]
    return microphoned(sounded(notes, RATE, dice), dice)


def along(practice) -> PlayAlongView:
    view = practice.view().play_along
    assert view is not None
    return view


def sing(practice, sound: Samples) -> None:
    practice.port.sing(sound, practice.port.now_frame())
    practice.pass_time(sound.size / RATE + 0.3)


def test_the_student_is_set_beside_the_teacher(practice_of: Callable) -> None:
    kept: list[tuple[Samples, Samples]] = []
    practice = practice_of(
        HILL, plays=False, keep_two=lambda _, one, other, __: kept.append((one, other))
    )
    practice.do(practice.session.advance)
    assert practice.do(lambda: practice.session.play_along(True)).stage is Stage.READY
    assert along(practice).step is PlayAlongStep.TEACHER
    sing(practice, played(1, 80.0))
    practice.do(lambda: practice.session.ask_play_along(PlayAlongAsk.NEXT))
    assert along(practice).step is PlayAlongStep.STUDENT
    assert along(practice).teacher_bpm == pytest.approx(80.0, rel=0.01)
    sing(practice, played(2, 80.0, second_half=1.09))
    practice.do(lambda: practice.session.ask_play_along(PlayAlongAsk.NEXT))
    assert along(practice).words == (
        "You were a little slower in the second half.",
        "You were loud and soft where the teacher was.",
    )
    practice.do(lambda: practice.session.ask_play_along(PlayAlongAsk.NEXT))
    practice.pass_time(1.0)
    assert along(practice).side.sounding == 0
    practice.do(lambda: practice.session.ask_play_along(PlayAlongAsk.KEEP))
    practice.do(lambda: practice.session.ask_play_along(PlayAlongAsk.TAKE_TEMPO))
    view = practice.do(lambda: practice.session.play_along(False))
    assert (view.stage, view.play_along) == (Stage.READY, None)
    assert view.round.tempo_bpm == pytest.approx(80.0, abs=0.5)
    assert len(kept) == 1
    assert min(sound.size for sound in kept[0]) > 5 * RATE
    practice.do(practice.session.stop)
    assert all("rounds: []" in text or "rounds:" not in text for text in practice.journal_texts())


def test_a_teacher_that_was_hardly_heard_plays_once_more(practice_of: Callable) -> None:
    practice = practice_of(HILL, plays=False)
    practice.do(practice.session.advance)
    practice.do(lambda: practice.session.play_along(True))
    practice.pass_time(2.0)
    practice.do(lambda: practice.session.ask_play_along(PlayAlongAsk.NEXT))
    assert along(practice).step is PlayAlongStep.TEACHER
    assert along(practice).words[0].startswith("Too little of that was heard")
    practice.port.lose("The microphone is gone.")
    practice.pass_time(0.5)
    practice.port.come_back("It is back.")
    practice.pass_time(0.5)
    assert along(practice).step is PlayAlongStep.TEACHER


def test_at_another_rate_both_play_once_more(practice_of: Callable) -> None:
    practice = practice_of(HILL, plays=False)
    practice.do(practice.session.advance)
    practice.do(lambda: practice.session.play_along(True))
    sing(practice, played(1, 80.0))
    practice.do(lambda: practice.session.ask_play_along(PlayAlongAsk.NEXT))
    assert along(practice).step is PlayAlongStep.STUDENT
    practice.port._sample_rate_hz = 44100
    practice.pass_time(0.1)
    assert along(practice).step is PlayAlongStep.TEACHER
    assert along(practice).teacher_bpm is None
    assert along(practice).words == ("The sound device changed: play once more to compare.",)


def test_it_begins_only_where_a_round_stands(practice_of: Callable) -> None:
    practice = practice_of(HILL, plays=False)
    assert practice.do(lambda: practice.session.play_along(True)).play_along is None
