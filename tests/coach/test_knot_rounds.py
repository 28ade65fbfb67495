"""In a knot's own rounds only its own notes count, and what was said enough makes room."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import pytest

from trainer.coach.advice import Advice, Topic
from trainer.coach.breakdown import breakdown
from trainer.coach.judge import judge
from trainer.coach.knots import Knot
from trainer.coach.marks import Marks
from trainer.coach.words import advise
from trainer.ear.heard import HeardNote, State, Take
from trainer.music.note import Articulation
from trainer.music.pitch import Pitch
from trainer.routine.round import Round

Rounds = Callable[..., Round]
KNOT = Knot("scale of the day", (Pitch.parse("C#5"), Pitch.parse("D5")), (6, 7), 3, 4, (), None)


def heard(
    round_: Round, late_ms: float = 0.0, lost: Sequence[int] = (), blip: bool = False
) -> Take:
    """Every note in its place, but the step of the knot late, or with a false note before it."""
    own = {pitch.midi for pitch in KNOT.pitches}
    notes: list[HeardNote] = []
    for before, note in zip([None, *round_.notes[:-1]], round_.notes, strict=True):
        at_step = before is not None and {before.pitch.midi, note.pitch.midi} == own
        onset_s = 1.0 + float(note.beat) * round_.beat_s + at_step * late_ms / 1000
        state = State.MISSED if note.index in lost else State.PLAYED
        cents = 0.0 if state is State.PLAYED else None
        notes.append(
            HeardNote(
                note.index,
                note.pitch,
                state,
                midi=float(note.pitch.midi),
                onset_s=onset_s,
                end_s=onset_s + 0.1,
                cents=cents,
                blip=blip and at_step,
            )
        )
    return Take(48000, 440.0, 1.0, tuple(notes))


def said(rounds: Sequence[Round], **how: Any) -> list[Advice]:
    earlier: list[Marks] = []
    advices = []
    for round_ in rounds:
        take = heard(round_, **how)
        marks = judge(round_, take)
        advices.append(advise(round_, take, marks, earlier))
        earlier.append(marks)
    return advices


def short_rounds(rounds: Rounds) -> tuple[Round, ...]:
    return breakdown(KNOT, rounds("D"))[:-1]


def test_a_knot_that_went_well_is_said_to(rounds: Rounds) -> None:
    for advice in said(short_rounds(rounds)):
        assert advice.topic is Topic.SECURE
        assert "C#5" in advice.sentence
        assert "clean" in advice.sentence


@pytest.mark.parametrize("late_ms", [30.0, 50.0, 90.0])
def test_a_late_step_is_never_called_groups_or_evenness(late_ms: float, rounds: Rounds) -> None:
    advices = said(short_rounds(rounds), late_ms=late_ms)
    assert {advice.topic for advice in advices} <= {Topic.CROSSING, Topic.SECURE}
    assert Topic.CROSSING in {advice.topic for advice in advices}


@pytest.mark.parametrize("late_ms", [30.0, 50.0, 90.0])
def test_a_late_step_is_never_called_in_time(late_ms: float, rounds: Rounds) -> None:
    advices = said(short_rounds(rounds), late_ms=late_ms)
    assert not [advice.sentence for advice in advices if "in time" in advice.sentence]


def test_a_false_note_in_the_knot_is_never_secure(rounds: Rounds) -> None:
    assert {advice.topic for advice in said(short_rounds(rounds), blip=True)} == {Topic.BLIP}


def test_a_lost_note_in_the_knot_is_named(rounds: Rounds) -> None:
    (advice,) = said(short_rounds(rounds)[:1], lost=[1])
    assert advice.topic is Topic.NOTES
    assert advice.note_indices == (1,)


def test_a_second_habit_has_its_turn(faults: dict[str, Any], rounds: Rounds, takes: Any) -> None:
    """The headjoint stands out most in every round; the late step is said all the same."""
    both = replace(faults["headjoint in"], late_ms=faults["late step"].late_ms)
    earlier: list[Marks] = []
    topics = []
    for number in range(1, 5):
        round_ = rounds("D", articulation=Articulation.SLURRED, number=number)
        take = takes(round_, 3, both, slips=False)
        marks = judge(round_, take)
        topics.append(advise(round_, take, marks, earlier).topic)
        earlier.append(marks)
    assert set(topics) == {Topic.TUNING, Topic.CROSSING}
