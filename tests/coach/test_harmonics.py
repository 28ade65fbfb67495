"""Harmonics against the true notes of the same pitch, from sound to sentence."""

from __future__ import annotations

import pytest

from tests.coach.test_held import RATE, rounds_of
from tests.sweeps import mostly_slow
from trainer.coach.advice import Advice, Topic
from trainer.coach.judge import judge
from trainer.coach.marks import Marks
from trainer.coach.words import advise
from trainer.ear.hear import hear
from trainer.ear.heard import Take
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES, Habits
from trainer.player.room import in_room, microphone
from trainer.routine.round import Round

RT60_S, WET_DB, NOISE_DB = 0.5, -10.0, -62.0
"""A furnished room with the microphone an arm's length away; our own estimate."""
TRUE_NOTES = ("C5", "G5", "D5", "A5", "E5", "B5", "F5", "C6", "D6")


def harmonics(key: str = "C") -> Round:
    entry = f"- {{voicing: v, key: {key}, form: harmonics, range: full, beats each: 2, tempo: 72}}"
    return rounds_of(entry)[0]


def heard(round_: Round, habits: Habits, seed: int, *, room: bool = False) -> tuple[Take, Marks]:
    played = Flutist(habits, seed).play(round_.notes, round_.tempo_bpm, round_.tuning, RATE)
    samples = played.samples
    if room:
        samples = microphone(in_room(samples, RATE, RT60_S, seed, WET_DB), NOISE_DB, 0.0, seed)
    tempo_bpm, tuning = round_.tempo_bpm, round_.tuning
    take = hear(samples, RATE, round_.notes, tempo_bpm, tuning, played.first_beat_s)
    return take, judge(round_, take)


def said(habits: Habits, seed: int = 3, *, room: bool = False) -> Advice:
    round_ = harmonics()
    return advise(round_, *heard(round_, habits, seed, room=room))


@pytest.mark.parametrize("room", mostly_slow([True, False], 1))
def test_one_thin_true_note_is_named(room: bool) -> None:
    advice = said(EXAMPLES["thin beside its harmonic"], room=room)
    assert advice.topic is Topic.VOICE
    assert advice.sentence.startswith("G5 was thinner than its harmonic")
    round_ = harmonics()
    assert {str(round_.notes[index].pitch) for index in advice.note_indices} == {"G5"}
    assert "dB" in advice.evidence[0]


@pytest.mark.slow
def test_true_notes_that_are_all_thin_are_said_together() -> None:
    advice = said(Habits(thin_notes=tuple((name, 1.0) for name in TRUE_NOTES)))
    assert advice.topic is Topic.VOICE
    assert advice.sentence.startswith("The true notes were thinner than their harmonics")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("key", "room", "takes"), [("C", True, 2), ("E flat", False, 1), ("A", True, 1)]
)
def test_a_clean_player_is_left_in_peace(key: str, room: bool, takes: int) -> None:
    """Every key once; mostly in a room, where more is laid over the harmonics.

    A take before it makes the coach no keener, whatever the key: one key is played twice.
    """
    round_ = harmonics(key)
    earlier: list[Marks] = []
    for seed in range(3, 3 + takes):
        take, marks = heard(round_, Habits(), seed, room=room)
        assert advise(round_, take, marks, earlier).topic is not Topic.VOICE
        earlier.append(marks)
