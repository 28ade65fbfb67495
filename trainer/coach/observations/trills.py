"""Trills: each pair's two notes against each other, and the finger that makes them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import pairwise
from statistics import median

import numpy as np

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.finger_changes import why_hard
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.observation import Observation, certainty
from trainer.figures.enough import FIGURE_NOTES

Pair = tuple[int, int]


def in_trills(marks: Marks, _: Sequence[Marks]) -> Iterator[Observation]:
    """Pairs that limp, one note of the two cut short, and pairs that come apart."""
    for steps in _by_pair(marks).values():
        yield from _limping(steps)
        yield from _loose(steps)


def _by_pair(marks: Marks) -> dict[Pair, list[tuple[NoteMark, NoteMark, float]]]:
    """Each note, the one it changes to, and its length in ms, by pair of pitches."""
    pairs: dict[Pair, list[tuple[NoteMark, NoteMark, float]]] = defaultdict(list)
    for frm, to in pairwise(marks.notes):
        if frm.written == to.written or frm.off_ms is None or to.off_ms is None:
            continue
        low, high = sorted((frm.written.midi, to.written.midi))
        pairs[low, high].append((frm, to, to.off_ms - frm.off_ms))
    return pairs


def _limping(steps: Sequence[tuple[NoteMark, NoteMark, float]]) -> Iterator[Observation]:
    """How much longer than asked each note of the pair is; one long, the other short."""
    first = steps[0][0].written
    longer = [ms if frm.written == first else -ms for frm, _, ms in steps]
    if len(longer) < FIGURE_NOTES:
        return
    amount = median(longer)
    sure = certainty(longer, max(thresholds.STEADIEST_MS, float(np.std(longer))))
    if abs(amount) >= thresholds.GROUP_MS and abs(sure) >= thresholds.CERTAIN:
        frm, to = (steps[0][0], steps[0][1]) if amount > 0 else (steps[0][1], steps[0][0])
        yield Observation(
            Topic.TRILL,
            abs(amount) / thresholds.GROUP_MS,
            (
                f"{frm.written} {abs(amount):.0f} ms longer, {to.written} shorter, "
                f"{len(steps)} times",
            ),
            tuple(note.index for note, _, _ in steps),
            amount=abs(amount),
            frm=frm.written,
            to=to.written,
            times=len(steps),
            detail=why_hard(frm.written, to.written) or "",
        )


def _loose(steps: Sequence[tuple[NoteMark, NoteMark, float]]) -> Iterator[Observation]:
    """A pair whose changes spread far more than those of a steady finger."""
    spread = float(np.std([ms for _, _, ms in steps])) / np.sqrt(2)
    if len(steps) >= FIGURE_NOTES and spread >= thresholds.UNEVEN_MS:
        frm, to, _ = steps[0]
        yield Observation(
            Topic.TRILL,
            float(spread) / thresholds.UNEVEN_MS,
            (f"{frm.written}–{to.written}: changes spread by {spread:.0f} ms",),
            tuple(note.index for note, _, _ in steps),
            amount=float(spread),
            frm=frm.written,
            to=to.written,
            times=len(steps),
            detail="loose",
        )
