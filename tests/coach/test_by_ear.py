"""From sound to sentence: the played-in flutist, the ear and the coach together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import pytest

from tests.sweeps import mostly_slow
from trainer.coach.advice import Advice, Topic
from trainer.coach.judge import judge
from trainer.coach.words import advise
from trainer.ear.hear import hear
from trainer.music.articulations import articulated
from trainer.music.note import Articulation
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES, Habits
from trainer.routine.round import Round

Rounds = Callable[..., Round]
SLURRED, SINGLE, DOUBLE = Articulation.SLURRED, Articulation.SINGLE, Articulation.DOUBLE

PLANTED: dict[str, tuple[str, Articulation, Topic]] = {
    "sharp top": ("Db", SINGLE, Topic.TUNING_HIGH),
    "flat low": ("Eb", SLURRED, Topic.TUNING_LOW),
    "headjoint pushed in": ("F", SINGLE, Topic.TUNING),
    "late over the break": ("C", SLURRED, Topic.CROSSING),
    "late in one step": ("D", SINGLE, Topic.CROSSING),
    "blip over the break": ("C", SLURRED, Topic.BLIP),
    "weak back stroke": ("Bb", DOUBLE, Topic.BACK_SYLLABLE),
    "slow low notes": ("D", SLURRED, Topic.LATE_NOTE),
    "rushing": ("G", SINGLE, Topic.RUSHING),
    "dragging": ("A", SLURRED, Topic.DRAGGING),
    "F for F sharp": ("G", SLURRED, Topic.NOTES),
    "ahead of the beat": ("E", SLURRED, Topic.SECURE),
}
"""Example player → key, articulation, and what must be said first; tempo 72."""


def heard_advice(round_: Round, habits: Habits, seed: int, played: Articulation) -> Advice:
    notes = articulated(round_.notes, played)
    sound = Flutist(habits, seed).play(notes, round_.tempo_bpm, round_.tuning)
    take = hear(
        sound.samples,
        sound.sample_rate_hz,
        round_.notes,
        round_.tempo_bpm,
        round_.tuning,
        sound.first_beat_s,
    )
    return advise(round_, take, judge(round_, take))


@pytest.mark.parametrize("name", mostly_slow(PLANTED, 6))
def test_what_was_planted_is_said(name: str, rounds: Rounds) -> None:
    tonic, articulation, topic = PLANTED[name]
    round_ = rounds(tonic, articulation=articulation)
    assert heard_advice(round_, EXAMPLES[name], 11, articulation).topic is topic


def test_a_fading_round_is_noticed(rounds: Rounds) -> None:
    """12 dB, since a player's own swell may hide the first few."""
    advice = heard_advice(rounds("Ab"), Habits(tired_fade_db=12), 11, SLURRED)
    assert advice.topic is Topic.FADING


@pytest.mark.slow
def test_clean_sound_is_left_in_peace(rounds: Rounds) -> None:
    said = Counter(
        heard_advice(rounds("D", 60 + 5 * seed, one), Habits(), 300 + seed, one).topic
        for seed, one in enumerate(Articulation)
    )
    assert said == {Topic.SECURE: len(Articulation)}


@pytest.mark.parametrize(("asked", "played"), [(SLURRED, SINGLE), (SINGLE, SLURRED)])
def test_another_articulation_than_asked_is_noticed(
    asked: Articulation, played: Articulation, rounds: Rounds
) -> None:
    advice = heard_advice(rounds("F", articulation=asked), Habits(), 5, played)
    assert advice.topic is Topic.START
