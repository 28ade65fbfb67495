"""Breaths the teacher marked: taken, left out, or taken elsewhere."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from trainer.coach.advice import Topic
from trainer.coach.judge import judge
from trainer.coach.words import advise
from trainer.ear.hear import hear
from trainer.ear.heard import State, Take
from trainer.figures.breaths import breaths_left_out, unplanned_breaths
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES, Habits
from trainer.player.room import in_room, microphone
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.round import Round

RT60_S, WET_DB, NOISE_DB = 0.5, -10.0, -62.0
"""A furnished room with the microphone an arm's length away; our own estimate."""
LINE = """
title: T
exercises:
- passage: line
  key: {key}
  tempo: {tempo}
  articulations: {how}
  notes: |
    quarter G4 A4 B4 C5 | D5 E5 D5 C5, | quarter B4 A4 B4 C5 | D5 C5 B4 A4, |
    quarter G4 B4 A4 C5 | B4 D5 C5 A4, | whole G4
"""
SCALE = """
title: T
exercises:
- scale: hill
  key: {key}
  range: two octaves
  rhythm: eighths
  tempo: {tempo}
  articulations: {how}
  breaths: every 8 beats
"""


def round_of(text: str, how: str = "slurred", tempo: int = 72, key: str = "G") -> Round:
    routine, problems = read_routine(text.format(how=how, tempo=tempo, key=key), "t.yaml")
    assert routine is not None, problems
    return plan(routine, date(2026, 3, 2), 0)[0].rounds[0]


def take_of(round_: Round, habits: Habits, seed: int, *, room: bool = False) -> Take:
    played = Flutist(habits, seed).play(round_.notes, round_.tempo_bpm, round_.tuning)
    samples, rate = played.samples, played.sample_rate_hz
    if room:
        samples = microphone(in_room(samples, rate, RT60_S, seed, WET_DB), NOISE_DB, 0.0, seed)
    return hear(samples, rate, round_.notes, round_.tempo_bpm, round_.tuning, played.first_beat_s)


def said(round_: Round, habits: Habits, seed: int = 3, **how: Any) -> Any:
    take = take_of(round_, habits, seed, **how)
    return advise(round_, take, judge(round_, take))


@pytest.mark.parametrize("how", ["slurred", "single"])
def test_a_breath_played_through_is_said(how: str) -> None:
    advice = said(round_of(LINE, how), EXAMPLES["plays through breaths"])
    assert advice.topic is Topic.BREATH
    assert "played on through the breath after C5" in advice.sentence
    assert advice.note_indices == (7, 15, 23)


def test_a_breath_taken_elsewhere_names_both_places() -> None:
    advice = said(round_of(LINE), EXAMPLES["breathes late"])
    assert advice.topic is Topic.BREATH
    assert "after C5 came 2 notes later, after A4" in advice.sentence
    assert advice.evidence[0].startswith("no breath after C5")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("how", "text", "room", "tempo", "key"),
    [
        ("slurred", LINE, False, 60, "G"),
        ("slurred", SCALE, True, 92, "E flat"),
        ("legato tongue", LINE, False, 92, "E flat"),
        ("legato tongue", SCALE, True, 60, "G"),
        ("single", LINE, True, 60, "G"),
        ("single", LINE, True, 92, "E flat"),
        ("single", SCALE, False, 92, "E flat"),
        ("air-only", LINE, True, 92, "E flat"),
        ("air-only", SCALE, False, 60, "G"),
    ],
)
def test_breaths_that_were_taken_are_left_in_peace(
    how: str, text: str, room: bool, tempo: int, key: str
) -> None:
    """Any two of articulation, music, room and tempo meet once at least: an orthogonal array.

    Strokes in a room, whose ring fills the silence, are tried at both tempos.
    """
    round_ = round_of(text, how, tempo, key)
    take = take_of(round_, Habits(), 40 + (tempo == 92), room=room)
    assert judge(round_, take).breaths_left_out == ()


def test_places_where_a_breath_may_be_taken_are_no_order() -> None:
    round_ = replace(round_of(LINE), breaths_asked=False)
    take = take_of(round_, EXAMPLES["plays through breaths"], 3)
    assert judge(round_, take).breaths_left_out == ()


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        (LINE, True),
        (SCALE, True),
        (SCALE.replace("every 8 beats", "as needed"), False),
        (SCALE.replace("every 8 beats", "[at the top, as needed]"), False),
    ],
)
def test_the_round_knows_whether_the_teacher_said_where(text: str, asked: bool) -> None:
    assert round_of(text).breaths_asked is asked


def test_a_breath_whose_silence_the_room_fills_is_not_called_left_out() -> None:
    """A tail of 60 dB in the reverberation time (ISO 3382-1) is, .3 s after a note in a room of
    .8 s, 22 dB down: it sounds through a quick breath, and notes seem to end where the next begin.
    """
    round_ = round_of(LINE, "single")
    for habits, left_out in ((Habits(), False), (EXAMPLES["plays through breaths"], True)):
        take = take_of(round_, habits, 3)
        after = {note.index: note for note in take.expected_notes}
        gaps_s = {
            i: n.onset_s - (after[i - 1].end_s or 0.0) for i, n in after.items() if i and n.onset_s
        }
        filled = tuple(
            replace(n, end_s=after[n.index + 1].onset_s, gap_s=gaps_s.get(n.index))
            if n.index is not None and n.index + 1 in after
            else n
            for n in take.notes
        )
        assert bool([*breaths_left_out(round_, replace(take, notes=filled))]) is left_out
        unknown = tuple(replace(note, gap_s=None) for note in filled)
        assert not [*breaths_left_out(round_, replace(take, notes=unknown))]


@pytest.mark.parametrize(("apart", "breaths"), [(2, False), (5, True)])
def test_silences_oftener_than_anybody_breathes_are_short_notes(apart: int, breaths: bool) -> None:
    """At rest an adult breathes 12 to 20 times a minute (from memory): after every second of these
    notes it would be 36 times. A swung line's long notes end early like that."""
    round_ = replace(round_of(LINE, "single"), breaths_asked=False)
    take = take_of(round_, Habits(), 3)
    notes = [n for n in take.expected_notes if n.end_s is not None]
    silences = tuple(
        (before.end_s - 0.25, after.onset_s)
        for before, after in itertools.pairwise(notes)
        if before.index % apart == 1
    )
    found = set(unplanned_breaths(round_.notes, replace(take, breaths_s=silences)))
    assert bool(found) is breaths


def test_a_note_that_could_not_be_judged_says_nothing_of_its_breath() -> None:
    round_ = round_of(LINE)
    take = take_of(round_, EXAMPLES["plays through breaths"], 3)
    notes = tuple(
        replace(note, state=State.NOT_JUDGED) if note.index == 8 else note for note in take.notes
    )
    assert 7 in set(breaths_left_out(round_, take))
    assert 7 not in set(breaths_left_out(round_, replace(take, notes=notes)))


def test_one_breath_left_out_once_is_no_habit() -> None:
    round_ = round_of(LINE)
    take = take_of(round_, EXAMPLES["plays through breaths"], 3)
    once = replace(judge(round_, take), breaths_left_out=(7,), unplanned_breaths=())
    assert advise(round_, take, once).topic is not Topic.BREATH
    assert advise(round_, take, once, (once,)).topic is Topic.BREATH
