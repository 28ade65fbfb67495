"""Knots: neighbouring notes that keep going wrong."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from trainer.coach import thresholds
from trainer.coach.finger_changes import why_hard
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.observation import NoteStep, by_pair, chance_of, recent
from trainer.music.pitch import Pitch


@dataclass(frozen=True)
class Knot:
    """Two to five neighbouring notes that keep going wrong."""

    exercise_id: str
    pitches: tuple[Pitch, ...]
    """Written, in the order they are met first."""
    note_indices: tuple[int, ...]
    """Where they are met first in the last round."""
    troubles: int
    chances: int
    """How often the steps between them were met; `troubles` of them went wrong."""
    evidence: tuple[str, ...]
    """'late 3 times, by 34 ms', one a line."""
    fingers: str | None
    """What the fingers do there, our own estimate; None where they explain nothing."""

    @property
    def name(self) -> str:
        """'C#5–D5'."""
        return knot_name(self.pitches)


def knot_name(pitches: Sequence[Pitch]) -> str:
    """'C#5–D5'."""
    return "–".join(map(str, pitches))


def knots_in(rounds: Sequence[Marks]) -> tuple[Knot, ...]:
    """The knots of the last round's exercise, the worst first; rounds oldest first."""
    if not rounds:
        return ()
    last = rounds[-1]
    rounds = recent(last, rounds[:-1])
    pairs = by_pair(rounds)
    if not pairs:
        return ()
    usual = _usual_trouble(pairs)
    bad = {pair for pair, steps in pairs.items() if _is_knot(steps, usual, len(pairs))}
    knots = (_knot(last, stretch, bad, pairs) for stretch in _stretches(last, bad))
    return tuple(sorted(knots, key=lambda knot: -knot.troubles / knot.chances * knot.troubles))


def _usual_trouble(pairs: dict[tuple[int, int], list[NoteStep]]) -> float:
    """How often this player's steps go wrong, the worst tenth left out; never quite nothing."""
    shares = sorted(_troubles(steps) / len(steps) for steps in pairs.values())
    ordinary = shares[: max(1, int(0.9 * len(shares)))]
    return max(float(np.mean(ordinary)), thresholds.LEAST_TROUBLE)


def _troubles(steps: Sequence[NoteStep]) -> int:
    return sum(step.to.troubled for step in steps)


def _is_knot(steps: Sequence[NoteStep], usual: float, pairs: int) -> bool:
    """Often enough, a good share of the time, and more than this player's slips by chance.

    Chance: the binomial tail at the usual rate, times the number of places looked at.
    """
    troubles, chances = _troubles(steps), len(steps)
    return (
        troubles >= thresholds.KNOT_TIMES
        and troubles >= thresholds.KNOT_RATE * chances
        and pairs * chance_of(troubles, chances, usual) < thresholds.KNOT_CHANCE
    )


def _stretches(marks: Marks, bad: set[tuple[int, int]]) -> list[tuple[int, ...]]:
    """Runs of neighbouring notes in the last round joined by bad steps, each place once."""
    stretches: list[list[int]] = []
    seen: set[tuple[int, int]] = set()
    for frm, to in pairwise(marks.notes):
        pair = _pair(frm, to)
        if pair not in bad or pair in seen:
            continue
        seen.add(pair)
        joined = stretches and stretches[-1][-1] == frm.index
        if joined and len(stretches[-1]) < thresholds.KNOT_NOTES:
            stretches[-1].append(to.index)
        else:
            stretches.append([frm.index, to.index])
    return [tuple(stretch) for stretch in stretches]


def _pair(frm: NoteMark, to: NoteMark) -> tuple[int, int]:
    low, high = sorted((frm.written.midi, to.written.midi))
    return low, high


def _knot(
    marks: Marks,
    stretch: tuple[int, ...],
    bad: set[tuple[int, int]],
    pairs: dict[tuple[int, int], list[NoteStep]],
) -> Knot:
    notes = [marks.notes[index] for index in stretch]
    inside = {_pair(frm, to) for frm, to in pairwise(notes)} & bad
    steps = [step for pair in inside for step in pairs[pair]]
    reasons = [
        f"{frm.written}–{to.written}: {why}"
        for frm, to in pairwise(notes)
        if (why := why_hard(frm.written, to.written))
    ]
    return Knot(
        marks.exercise_id,
        tuple(note.written for note in notes),
        stretch,
        _troubles(steps),
        len(steps),
        tuple(_evidence([step.to for step in steps if step.to.troubled])),
        "; ".join(reasons) or None,
    )


def _evidence(notes: Sequence[NoteMark]) -> list[str]:
    kinds = Counter(_kind(note) for note in notes)
    late = [note.off_ms for note in notes if note.late and note.off_ms is not None]
    lines = [f"{kind}: {times}" for kind, times in kinds.most_common()]
    return [*lines, f"late by about {np.median(late):.0f} ms"] if late else lines


def _kind(note: NoteMark) -> str:
    if note.missed:
        return "missed"
    if note.wrong is not None:
        return "wrong note"
    return "false note between" if note.blip else "late"
