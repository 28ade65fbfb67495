"""Takes of the made flute, heard once and scored by several tests."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.ear.made_flute import Blown, as_expected, blown, in_a_room, microphoned, scale, sounded
from tests.ear.recorded import RECORDINGS
from trainer.ear.hear import hear
from trainer.ear.heard import HeardNote, Take
from trainer.music.note import Note, Start
from trainer.music.tuning import Tuning

FIRST_S = 0.5
RATE = 48000


@dataclass(frozen=True)
class Scored:
    """A take beside its truth."""

    take: Take
    truth: tuple[Blown, ...]
    samples: NDArray[np.float32]
    expected: tuple[Note, ...]

    def pairs(self) -> list[tuple[HeardNote, Blown]]:
        """Played expected notes with what was really blown."""
        return [
            (note, self.truth[note.index])
            for note in self.take.expected_notes
            if note.index is not None and note.onset_s is not None
        ]

    def late_ms(self) -> NDArray[np.float64]:
        """Heard onsets against the true ones."""
        pairs = [(heard.onset_s or 0.0, true.onset_s) for heard, true in self.pairs()]
        return np.array([1000 * (heard_s - true_s) for heard_s, true_s in pairs])

    def off_cents(self) -> NDArray[np.float64]:
        """Heard cents against the true ones."""
        return np.array(
            [heard.cents - true.cents for heard, true in self.pairs() if heard.cents is not None]
        )

    def starts(self) -> list[Start]:
        """How the notes after the first were heard to start."""
        return [n.start for n in self.take.expected_notes[1:] if n.start is not None]


@lru_cache(maxsize=64)
def scored(
    start: Start, bpm: float, rt60_s: float = 0.0, seed: int = 101, rate: int = RATE, low: int = 60
) -> Scored:
    """One scale up and down, played by the made flute and heard."""
    dice = np.random.default_rng(seed)
    truth = blown(scale(low), bpm, start, dice, FIRST_S)
    sound = sounded(truth, rate, dice)
    if rt60_s:
        sound = in_a_room(sound, rate, rt60_s, dice)
    samples = microphoned(sound, dice)
    expected = as_expected(scale(low), start)
    take = hear(samples, rate, expected, bpm, Tuning(), FIRST_S)
    return Scored(take, tuple(truth), samples, expected)


Hear = Callable[[Sequence[Blown], Sequence[int], float], Take]


@pytest.fixture
def heard() -> Hear:
    """Sound some blown notes dry and hear them against expected pitches."""

    def of(notes: Sequence[Blown], midis: Sequence[int], bpm: float) -> Take:
        dice = np.random.default_rng(7)
        samples = microphoned(sounded(notes, RATE, dice), dice)
        return hear(samples, RATE, as_expected(midis), bpm, Tuning(), FIRST_S)

    return of


@pytest.fixture
def recordings() -> None:
    """Skips, saying so, where the real recordings are not at hand."""
    if not RECORDINGS.is_dir():
        pytest.skip("the real recordings are not beside the project")
