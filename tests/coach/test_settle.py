"""Settling: a note is behind us only when it has stood in tune, and what came of it is said."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.coach import settle
from trainer.coach.advice import Ask, Topic
from trainer.coach.settle import Settling
from trainer.coach.words import advise
from trainer.ear.heard import LiveReading, State
from trainer.music.note import Articulation, Note, Start
from trainer.music.pitch import Pitch
from trainer.routine.round import Aims, Manner, Round, RoundKind

HOP_S = 0.005
NAMES = ("D5", "F#5", "A5")


def sounding(names: tuple[str, ...] = NAMES) -> tuple[Note, ...]:
    return tuple(
        Note(index, Pitch.parse(name), Fraction(index), Fraction(1), Start.TONGUED)
        for index, name in enumerate(names)
    )


def a_round(names: tuple[str, ...] = NAMES) -> Round:
    return Round(
        "settle", "Settling", RoundKind.SETTLING, 1, None, Articulation.SLURRED, 60.0,
        sounding(names), 4, Aims(), None, manner=Manner(stands_s=1.0),
    )  # fmt: skip


def begun(names: tuple[str, ...] = NAMES, aim_cents: float | None = None) -> Settling:
    return settle.begin([Pitch.parse(name).midi for name in names], aim_cents, 1.0)


def held(
    name: str, from_s: float, seconds: float, cents: float = 0.0, vibrato_cents: float = 0.0
) -> list[LiveReading]:
    """Readings of one held note; vibrato at 5.5 a second, the middle of what flutists play."""
    midi = Pitch.parse(name).midi
    times = from_s + np.arange(0, seconds, HOP_S)
    wave = vibrato_cents * np.sin(2 * np.pi * 5.5 * times)
    return [
        LiveReading(float(t), midi + (cents + w) / 100, None, -20.0, None, None)
        for t, w in zip(times, wave, strict=True)
    ]


def silence(from_s: float, seconds: float) -> list[LiveReading]:
    times = from_s + np.arange(0, seconds, HOP_S)
    return [LiveReading(float(t), None, None, -80.0, None, None) for t in times]


def test_a_note_in_tune_is_behind_us_after_it_has_stood() -> None:
    state = settle.after(begun(), held("D5", 0.0, 0.95))
    assert state.due == 0
    state = settle.after(state, held("D5", 0.95, 0.4))
    assert state.due == 1
    assert state.settled[0].stood


def test_a_vibrato_about_the_note_stands() -> None:
    state = settle.after(begun(), held("D5", 0.0, 1.5, vibrato_cents=15.0))
    assert state.due == 1


@pytest.mark.parametrize(("cents", "ask"), [(25.0, Ask.LOWER), (-25.0, Ask.HIGHER)])
def test_the_trainer_waits_and_says_which_way(cents: float, ask: Ask) -> None:
    state = settle.after(begun(), held("D5", 0.0, 10.0, cents))
    now = settle.standing(state)
    assert now is not None
    assert (now.index, now.ask, now.share) == (0, ask, 0.0)
    assert now.cents == pytest.approx(cents, abs=0.5)


def test_a_note_brought_in_stands_and_the_wait_is_told() -> None:
    state = settle.after(begun(), held("D5", 0.0, 3.0, 30.0))
    state = settle.after(state, held("D5", 3.0, 1.4, 2.0))
    first = state.settled[0]
    assert first.first_cents == pytest.approx(30.0, abs=0.5)
    assert first.cents == pytest.approx(2.0, abs=0.5)
    assert first.waited_s(1.0) == pytest.approx(3.1, abs=0.25)


def test_of_a_beginning_that_another_note_sways_nothing_is_said() -> None:
    """What rings of the note before draws the pitch to and fro: two tones together beat."""
    swaying = held("D5", 0.0, 0.4, -16.0, vibrato_cents=8.0)
    state = settle.after(begun(), [*swaying, *held("D5", 0.4, 1.5)])
    assert state.settled[0].stood
    assert state.settled[0].first_cents is None


def test_a_beginning_that_glides_into_its_place_is_told() -> None:
    glide = [one for k in range(40) for one in held("D5", 0.01 * k, 0.01, -32.0 + 0.8 * k)]
    state = settle.after(begun(), [*glide, *held("D5", 0.4, 1.5)])
    assert state.settled[0].first_cents == pytest.approx(-17.0, abs=2.0)


def test_another_note_is_named_as_such_and_never_counts() -> None:
    state = settle.after(begun(), held("E5", 0.0, 5.0))
    now = settle.standing(state)
    assert now is not None
    assert now.ask is Ask.OTHER
    assert state.due == 0


def test_a_breath_begins_the_standing_anew() -> None:
    readings = [*held("D5", 0.0, 0.7), *silence(0.7, 0.5), *held("D5", 1.2, 0.7)]
    assert settle.after(begun(), readings).due == 0


def test_the_same_note_twice_must_begin_twice() -> None:
    twice = ("D5", "D5")
    state = settle.after(begun(twice), held("D5", 0.0, 5.0))
    assert state.due == 1
    state = settle.after(state, [*silence(5.0, 0.1), *held("D5", 5.1, 1.4)])
    assert state.due is None


def test_the_student_may_pass_a_note() -> None:
    state = settle.passed(settle.after(begun(), held("D5", 0.0, 1.0, 40.0)))
    assert state.due == 1
    assert not state.settled[0].stood
    take = settle.settled_take(state, sounding(), 48000, 440.0)
    assert [note.state for note in take.notes] == [State.PLAYED]
    silent = settle.passed(begun())
    assert settle.settled_take(silent, sounding(), 48000, 440.0).notes[0].state is State.NOT_JUDGED


def played(*offs: float) -> Settling:
    """Each note begun so many cents off, held so for three seconds, then brought in."""
    state, at_s = begun(), 0.0
    for name, cents in zip(NAMES, offs, strict=True):
        state = settle.after(state, held(name, at_s, 3.0, cents))
        if state.due is not None and abs(cents) > 10:
            state = settle.after(state, held(name, at_s + 3.0, 1.5))
        at_s += 5.0
    return state


def said(state: Settling) -> tuple[Topic, str]:
    round_ = a_round()
    take = settle.settled_take(state, sounding(), 48000, 440.0)
    advice = advise(round_, take, settle.settled_marks(round_, state, take))
    return advice.topic, advice.sentence


def test_notes_all_from_one_side_are_said_together() -> None:
    topic, sentence = said(played(22.0, 19.0, 25.0))
    assert topic is Topic.SETTLING
    assert "sharp" in sentence


def test_one_note_far_off_is_named() -> None:
    topic, sentence = said(played(2.0, -28.0, 3.0))
    assert topic is Topic.SETTLING
    assert sentence.startswith("F#5 began 28 cents flat")


def test_notes_that_stand_at_once_are_told_with_the_longest_wait() -> None:
    topic, sentence = said(played(2.0, -3.0, 1.0))
    assert topic is Topic.SECURE
    assert sentence == "Every note settled."


@given(st.lists(st.floats(55, 100) | st.none(), max_size=400))
def test_whatever_sounds_the_order_is_kept(sounds: list[float | None]) -> None:
    state = begun()
    for place, midi in enumerate(sounds):
        before = len(state.settled)
        reading = LiveReading(place * HOP_S, midi, None, -20.0, None, None)
        state = settle.after(state, [reading])
        assert before <= len(state.settled) <= before + 1
    assert [one.index for one in state.settled] == list(range(len(state.settled)))
