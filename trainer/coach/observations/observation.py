"""One thing noticed in a round, with what a sentence about it needs."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, takewhile
from statistics import median

import numpy as np
from scipy.special import bdtrc, stdtr

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.marks import Marks, NoteMark
from trainer.music.pitch import Pitch

ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


@dataclass(frozen=True)
class Observation:
    """One thing noticed, strong enough to be said."""

    topic: Topic
    strength: float
    """How many times over its threshold it lies; at least 1."""
    evidence: tuple[str, ...]
    """The figures, one a line."""
    note_indices: tuple[int, ...] = ()
    amount: float = 0.0
    """Cents, milliseconds, decibels, notes or a share, as the topic goes; sharp, late, louder and
    faster are positive."""
    frm: Pitch | None = None
    """The first of two notes, or the note where a register begins."""
    to: Pitch | None = None
    """The second of two notes, or what sounded instead."""
    times: int = 0
    chances: int = 0
    where: str = ""
    """Which notes of each group, where the round repeats one: 'the second of each slur'."""
    detail: str = ""
    """What else the sentence says: why the fingers find it hard, what was heard instead."""


def recent(marks: Marks, earlier: Sequence[Marks]) -> tuple[Marks, ...]:
    """The last rounds of the same exercise and this one, oldest first.

    A breakdown in between begins a new count: what was wrong before it may be mended.
    """
    same = [other for other in earlier if other.exercise_id == marks.exercise_id]
    alike = list(takewhile(lambda other: other.kind is marks.kind, reversed(same)))
    return (*reversed(alike[: thresholds.REMEMBERED_ROUNDS]), marks)


@dataclass(frozen=True)
class NoteStep:
    """One time from a note to the next, both judged."""

    frm: NoteMark
    to: NoteMark
    spread_ms: float | None
    """The ordinary spread of the round it was played in."""
    now: bool
    """In the round just played, not an earlier one."""

    @property
    def between(self) -> tuple[int, int]:
        """Both MIDI numbers, the lower first: the same up and down."""
        low, high = sorted((self.frm.written.midi, self.to.written.midi))
        return low, high


def steps_of(rounds: Sequence[Marks]) -> Iterator[NoteStep]:
    """Every step between neighbouring judged notes of different pitch; the last round is now."""
    for marks in rounds:
        for frm, to in pairwise(marks.notes):
            if frm.judged and to.judged and frm.written.midi != to.written.midi:
                yield NoteStep(frm, to, marks.spread_ms, marks is rounds[-1])


def by_pair(rounds: Sequence[Marks]) -> dict[tuple[int, int], list[NoteStep]]:
    """The steps of these rounds, up and down together."""
    result: dict[tuple[int, int], list[NoteStep]] = defaultdict(list)
    for step in steps_of(rounds):
        result[step.between].append(step)
    return result


def chance_of(times: int, chances: int, each: float) -> float:
    """How likely so many or more are by chance, each as likely: the tail of the binomial
    distribution."""
    return float(bdtrc(times - 1, chances, each))


def chance_of_more(values: Sequence[float], others: Sequence[float], floor: float) -> float:
    """How likely these lie so far above the others by chance: Student's t of two samples of one
    spread, one-sided; 1 where either has a single value or none. `floor`: as in `sure_median`."""
    if min(len(values), len(others)) < 2:
        return 1.0
    freedom = len(values) + len(others) - 2
    squares = len(values) * np.var(values) + len(others) * np.var(others)
    spread = max(floor, float(np.sqrt(squares / freedom)))
    error = spread * float(np.sqrt(1 / len(values) + 1 / len(others)))
    return float(stdtr(freedom, (np.mean(others) - np.mean(values)) / error))


def chance_of_one_more(
    value: float, others: Sequence[float], known_spread: float, known: int
) -> float:
    """How likely one more of these lies so far above them by chance: Student's t of a single new
    value, one-sided (Hahn & Meeker 1991, Statistical Intervals, 4.8); 1 where there are fewer than
    two. A spread counts as known beforehand as surely as if so many more had shown it (Smyth 2004,
    Stat Appl Genet Mol Biol 3:3, moderated t)."""
    if len(others) < 2:
        return 1.0
    own = len(others) - 1
    squares = known * known_spread**2 + own * float(np.var(others, ddof=1))
    error = float(np.sqrt(squares / (known + own) * (1 + 1 / len(others))))
    return float(stdtr(known + own, (np.mean(others) - value) / error))


def certainty(values: Sequence[float], spread: float) -> float:
    """How many standard errors the mean lies from nothing, given the spread of one value."""
    if not values or spread <= 0:
        return 0.0
    return sum(values) / math.sqrt(len(values)) / spread


def sure_median(differences: Sequence[float], least: float, floor: float) -> float | None:
    """The median of differences between two notes each, where it is no chance and large enough.

    None where it is nearer to nothing than `least`, or may be chance. `floor`: the spread of one
    note that no player goes below, in the same unit.
    """
    amount = median(differences)
    spread = max(float(np.sqrt(2)) * floor, float(np.std(differences)))
    sure = abs(certainty(differences, spread)) >= thresholds.CERTAIN
    return amount if sure and abs(amount) >= least else None


def names(pitches: Iterable[Pitch], most: int = 4) -> str:
    """'D5, E5 and F#5', each once, in order; 'and others' beyond the most."""
    each = list(dict.fromkeys(str(pitch) for pitch in pitches))
    if len(each) > most:
        return ", ".join(each[:most]) + " and others"
    return " and ".join(filter(None, (", ".join(each[:-1]), each[-1] if each else "")))
