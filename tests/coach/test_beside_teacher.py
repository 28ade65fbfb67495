"""What is said of a student's take beside the teacher's: what was planted, and nothing else."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from trainer.coach.beside_teacher import beside_teacher, tempo_of
from trainer.ear.heard import HeardNote, State, Take
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch

NAMES = ("G4", "A4", "B4", "C5", "D5", "E5", "F#5", "G5", "A5", "B5", "C6", "B5", "A5", "G5",
         "F#5", "E5", "D5", "C5", "B4", "A4", "G4", "A4", "B4", "G4")  # fmt: skip
NOTES = tuple(
    Note(place, Pitch.parse(name), Fraction(place, 2), Fraction(1, 2), Start.TONGUED)
    for place, name in enumerate(NAMES)
)
HIGHEST = NAMES.index("C6")
ALIKE = ("Your tempo was the teacher's.", "You were loud and soft where the teacher was.")


def take(
    tempo: float = 72.0,
    seed: int | None = None,
    *,
    second_half: float = 1.0,
    held: float = 0.9,
    swell_db: float = 0.0,
    level_db: float = -20.0,
    missed: int = 0,
) -> Take:
    """Eighths at a tempo; second_half: its beats are so many times as long. seed: onsets waver by
    12 ms, levels by 1 dB and lengths by 4 %, as a good player's do (our own estimate)."""
    dice = np.random.default_rng(seed)
    step_s = 30.0 / tempo
    notes, at_s = [], 1.0
    for note in NOTES:
        length_s = step_s * (second_half if note.index >= len(NOTES) // 2 else 1.0)
        waver = dice.normal(0, 1, 3) if seed is not None else np.zeros(3)
        onset_s = at_s + 0.012 * waver[0]
        swell = swell_db * max(0.0, 1 - abs(note.index - HIGHEST) / 5)
        notes.append(
            HeardNote(
                note.index,
                note.pitch,
                State.MISSED if note.index < missed else State.PLAYED,
                midi=float(note.pitch.midi),
                onset_s=onset_s,
                end_s=onset_s + length_s * (held + 0.04 * waver[1]),
                cents=0.0,
                level_db=level_db + swell + waver[2],
            )
        )
        at_s += length_s
    return Take(48000, 440.0, 1.0, tuple(notes))


@pytest.mark.parametrize(
    ("student", "said"),
    [
        (take(), ALIKE),
        (take(level_db=-35.0), ALIKE),
        (take(66.0), ("You were a little slower than the teacher.", ALIKE[1])),
        (take(86.0), ("You were much faster than the teacher.", ALIKE[1])),
        (
            take(second_half=1.08),
            ("You were a little slower in the second half.", ALIKE[1]),
        ),
        (
            take(66.0, second_half=66 / 72),
            ("You were a little slower in the first half.", ALIKE[1]),
        ),
        (
            take(held=0.6),
            (
                ALIKE[0],
                "Your notes are shorter than the teacher's: hold each one a little longer.",
                ALIKE[1],
            ),
        ),
        (take(swell_db=8.0), (ALIKE[0], "The teacher is softer around the C6 than you are.")),
    ],
)
def test_what_was_planted_is_said_and_nothing_else(student: Take, said: tuple[str, ...]) -> None:
    assert beside_teacher(NOTES, take(), student) == said


def test_the_teachers_swell_is_where_it_was_played() -> None:
    said = beside_teacher(NOTES, take(swell_db=8.0), take())
    assert said == (ALIKE[0], "The teacher swells to the C6.")


def test_two_good_players_are_never_told_apart_by_chance() -> None:
    """Two hundred pairs whose takes differ by chance alone."""
    for seed in range(200):
        assert beside_teacher(NOTES, take(seed=seed), take(seed=1000 + seed)) == ALIKE


def test_a_slower_half_is_nearly_always_heard() -> None:
    found = [
        "slower in the second half" in " ".join(
            beside_teacher(NOTES, take(seed=seed), take(seed=500 + seed, second_half=1.12))
        )
        for seed in range(100)
    ]  # fmt: skip
    assert sum(found) >= 95


def test_too_little_of_both_is_said() -> None:
    (said,) = beside_teacher(NOTES, take(), take(missed=9))
    assert said.startswith("Too little of yours was heard")


def test_the_tempo_is_the_players_own() -> None:
    assert tempo_of(NOTES, take(63.5, seed=4)) == pytest.approx(63.5, rel=0.01)
    assert tempo_of(NOTES, replace(take(), notes=take().notes[:5])) is None
