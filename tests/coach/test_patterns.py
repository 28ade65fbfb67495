"""Articulation patterns: what was played otherwise than asked, and never what was not heard."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest

from tests.coach.conftest import make_round, make_take
from tests.sweeps import mostly_slow
from trainer.coach.advice import Advice, Topic
from trainer.coach.judge import judge
from trainer.coach.words import advise
from trainer.ear.hear import hear
from trainer.ear.heard import Take
from trainer.music.articulations import (
    FOURS,
    THREES,
    AnyArticulation,
    articulated,
    pattern_of,
)
from trainer.music.note import Articulation, Note, Start
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.routine.round import Round

Rounds = Callable[..., Round]


def starts_heard(round_: Round, starts: Sequence[Start], seed: int) -> Take:
    """A scripted take in which each note begins as given."""
    take = make_take(round_, seed)
    by_index = dict(zip((note.index for note in round_.notes), starts, strict=True))
    notes = tuple(
        replace(note, start=by_index[note.index])
        if note.index is not None and note.start is not None
        else note
        for note in take.notes
    )
    return replace(take, notes=notes)


def said(asked: AnyArticulation, played: AnyArticulation, seed: int) -> Advice:
    round_ = make_round("D", articulation=asked)
    starts = [note.start for note in articulated(round_.notes, played)]
    take = starts_heard(round_, starts, seed)
    return advise(round_, take, judge(round_, take))


@pytest.mark.parametrize(
    ("asked", "played", "sentence"),
    [
        ("slur 2 tongue 2", Articulation.SINGLE, "The second of each slur was tongued, "),
        ("slur 2", Articulation.SINGLE, "The second of each slur was tongued, "),
        ("slur 4", "slur 2", "The third of each four was tongued, "),
        ("slur 3 tongue 1", "slur 4", "The fourth of each four was slurred, "),
        ("slur 4", Articulation.SINGLE, "The notes under each slur were tongued, "),
        ("slur 2 tongue 2", "slur 4", "The notes with a stroke of their own were slurred, "),
        ("slur 2 tongue 1", "slur 3", "The third of each three was slurred, "),
    ],
)
def test_it_says_which_of_each_group(asked: str, played, sentence: str) -> None:
    played = played if isinstance(played, Articulation) else pattern_of(played)
    advice = said(pattern_of(asked), played, seed=3)
    assert advice.topic is Topic.START
    assert advice.sentence.startswith(sentence)
    assert advice.note_indices


@pytest.mark.parametrize(("right", "is_said"), [(0, True), (1, False)])
def test_a_short_line_is_told_where_it_was_otherwise_each_time(right: int, is_said: bool) -> None:
    """Four of four are no chance, three of four may be the ear's."""
    asked = pattern_of("slur 2 tongue 2")
    whole = make_round("D", articulation=asked)
    round_ = replace(whole, notes=whole.notes[:17])
    starts = [Start.TONGUED] * 17
    starts[1 : 1 + right] = [Start.SLURRED] * right
    take = starts_heard(round_, starts, 3)
    advice = advise(round_, take, judge(round_, take))
    assert (advice.topic is Topic.START) == is_said


@pytest.mark.parametrize("asked", mostly_slow([*FOURS, *THREES], 5), ids=str)
def test_what_was_played_as_asked_is_not_accused(asked) -> None:
    for seed in range(12):
        assert said(asked, asked, seed).topic is not Topic.START


def heard_advice(round_: Round, played: AnyArticulation, seed: int) -> Advice:
    notes: tuple[Note, ...] = articulated(round_.notes, played)
    sound = Flutist(Habits(), seed).play(notes, round_.tempo_bpm, round_.tuning)
    take = hear(
        sound.samples,
        sound.sample_rate_hz,
        round_.notes,
        round_.tempo_bpm,
        round_.tuning,
        sound.first_beat_s,
    )
    return advise(round_, take, judge(round_, take))


@pytest.mark.parametrize(
    ("asked", "played", "start"),
    [
        ("slur 2 tongue 2", Articulation.SINGLE, "The second of each slur was tongued"),
        ("tongue 1 slur 3", "slur 4", "The second of each four was slurred"),
    ],
)
def test_from_sound_to_sentence(asked: str, played, start: str, rounds: Rounds) -> None:
    played = played if isinstance(played, Articulation) else pattern_of(played)
    advice = heard_advice(rounds("F", articulation=pattern_of(asked)), played, 5)
    assert advice.sentence.startswith(start)


@pytest.mark.slow
def test_patterns_played_as_asked_are_left_in_peace_by_ear(rounds: Rounds) -> None:
    for seed, asked in enumerate(FOURS):
        round_ = rounds("D", 60 + 6 * seed, articulation=asked)
        assert heard_advice(round_, asked, 40 + seed).topic is Topic.SECURE, asked
