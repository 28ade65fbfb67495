"""The lines that are played: which pitches, in which rhythm, slurred how."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from tests.bench.ear.recorded.heard_by import Asked
from tests.bench.ear.recorded.lines import FIRST_S, Stroke
from tests.bench.ear.recorded.notes import Bank, Part

SEVENTHS = ((1, 4, 7, 10), (2, 5, 8, 11))
"""Pitch classes of the two diminished sevenths that were recorded whole."""
LOWEST, HIGHEST = 61, 97
PATTERNS: dict[str, tuple[bool, ...]] = {
    "all slurred": (True,),
    "all tongued": (False,),
    "slur 2 tongue 2": (False, True, False, False),
    "slur 3 tongue 1": (False, True, True, False),
    "tongue 1 slur 3": (False, False, True, True),
    "slur 4": (False, True, True, True),
    "twos across the beat": (True, False),
}
"""Whether each note is slurred to the one before, repeated through the line."""


@dataclass(frozen=True)
class Score:
    """A line in time."""

    midis: tuple[int, ...]
    step: Fraction
    """Of a note, in beats."""
    bpm: float
    slurred: tuple[bool, ...]
    double: bool = False

    @property
    def step_s(self) -> float:
        """Length of a note."""
        return float(self.step) * 60 / self.bpm

    @property
    def asked(self) -> Asked:
        """As it stands on the stand."""
        beats = tuple(self.step * number for number in range(len(self.midis)))
        return Asked(self.midis, beats, self.step, self.slurred, self.bpm, self.double)

    def with_pattern(self, pattern: Sequence[bool]) -> Score:
        """The same notes, slurred otherwise; the first is always struck."""
        slurred = tuple(
            index > 0 and pattern[index % len(pattern)] for index in range(len(self.midis))
        )
        return replace(self, slurred=slurred)

    def strokes(self, dice: np.random.Generator, *, cents: float = 4.0) -> list[Stroke]:
        """A clean performance: onsets within 3 ms, 12 to 30 ms between struck notes."""
        places = FIRST_S + self.step_s * np.arange(len(self.midis) + 1)
        places += np.clip(dice.normal(0, 0.003, places.size), -0.006, 0.006)
        gaps = dice.uniform(0.012, 0.03, len(self.midis))
        return [
            Stroke(
                midi,
                float(places[index]),
                float(places[index + 1]) - (0.0 if self._slurs_on(index) else float(gaps[index])),
                slurred=self.slurred[index],
                cents=float(dice.normal(0, cents)),
                level_db=float(np.clip(dice.normal(0, 1), -2, 2)),
            )
            for index, midi in enumerate(self.midis)
        ]

    def _slurs_on(self, index: int) -> bool:
        return index + 1 < len(self.slurred) and self.slurred[index + 1]


def line_of(part: Part, number: int, bank: Bank, bpm: tuple[float, float] = (60, 120)) -> Score:
    """The line of a number: a chord or scale up and down, triplets or sixteenths in turn.

    The held-out pitches make no scale: there all ten of them are a wide chord, or a walk over it.
    """
    dice = np.random.default_rng([number, 41])
    midis = _pitches(part, number, bank, dice)
    step = Fraction(1, 3) if number % 2 else Fraction(1, 4)
    plain = (False,) * len(midis)
    return Score(midis, step, round(dice.uniform(*bpm)), plain, double=number % 4 >= 2)


def _pitches(part: Part, number: int, bank: Bank, dice: np.random.Generator) -> tuple[int, ...]:
    if part is Part.HELD_OUT:
        chord = list(bank)
        if number % 3 == 2:
            return _walk(chord, 25, dice)
    else:
        chord = _chord(number, bank)
    lowest = int(dice.integers(0, 3)) if part is Part.ALL else 0
    up = chord[lowest:][:13]
    line = [*up, *up[-2::-1]]
    return tuple([*line, *line[1:]][:36] if len(line) < 20 else line)


def _chord(number: int, bank: Bank) -> list[int]:
    """One of the sevenths over three octaves, or a stretch of a scale of half and whole steps."""
    if number % 3 == 2:
        scale = [midi for midi in bank if midi % 12 in (*SEVENTHS[0], *SEVENTHS[1])]
        first = (5 * number) % max(1, len(scale) - 13)
        return scale[first : first + 16]
    classes = SEVENTHS[number % 2]
    return [midi for midi in bank if midi % 12 in classes and LOWEST <= midi <= HIGHEST]


def _walk(chord: Sequence[int], count: int, dice: np.random.Generator) -> tuple[int, ...]:
    """Neighbours of the chord, up or down by one or two, never standing still."""
    place, line = int(dice.integers(len(chord))), []
    while len(line) < count:
        line.append(chord[place])
        move = int(dice.choice([-2, -1, 1, 2]))
        place = place + move if 0 <= place + move < len(chord) else place - move
        place = min(max(place, 0), len(chord) - 1)
        if chord[place] == line[-1]:
            place += 1 if place == 0 else -1
    return tuple(line)
