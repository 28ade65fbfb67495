"""What was heard against what is true: notes found, extras, places, starts.

A true note counts as heard where the heard note given to it by its index, or where no index can
tell (repeated notes, nothing told) the nearest free one, lies between the true stroke and the true
speaking or at most `NEAR_S` or half the usual distance of notes, whichever is less, to either side,
and within 60 cents. A start is right where a slur is
called slurred, or a stroke tongued or a legato tongue. 'Not judged' and no start at all are neither
right nor wrong.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from tests.bench.ear.recorded.heard_by import NOT_JUDGED, Heard
from tests.bench.ear.recorded.lines import TrueNote

NEAR_S = 0.1
NEAR_SEMITONES = 0.6
STRUCK = frozenset({"tongued", "legato tongue"})
SURE_BINS = (0.0, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0)


@dataclass
class Count:
    """Takes added up; every figure of the tables comes from these."""

    takes: int = 0
    notes: int = 0
    heard: int = 0
    extras: int = 0
    right: int = 0
    wrong: int = 0
    not_judged: int = 0
    after_speaking_s: list[float] = field(default_factory=list)
    """Heard onset minus the place where the note speaks."""
    after_stroke_s: list[float] = field(default_factory=list)
    claims: list[tuple[float, bool]] = field(default_factory=list)
    """Certainty of each judged start, and whether it is right."""

    def add(self, other: Count) -> None:
        """Another count's takes on top."""
        self.takes += other.takes
        self.notes += other.notes
        self.heard += other.heard
        self.extras += other.extras
        self.right += other.right
        self.wrong += other.wrong
        self.not_judged += other.not_judged
        self.after_speaking_s += other.after_speaking_s
        self.after_stroke_s += other.after_stroke_s
        self.claims += other.claims

    @property
    def row(self) -> dict[str, float | int | None]:
        """The figures."""
        median_s = float(np.median(self.after_speaking_s)) if self.after_speaking_s else None
        return {
            "takes": self.takes,
            "notes": self.notes,
            "heard": share(self.heard, self.notes),
            "extras a take": share(self.extras, self.takes),
            "starts right of judged": share(self.right, self.right + self.wrong),
            "not judged": share(self.not_judged, self.right + self.wrong + self.not_judged),
            "after speaking, median ms": _ms(median_s),
            "after the stroke, median ms": _ms(
                float(np.median(self.after_stroke_s)) if self.after_stroke_s else None
            ),
            "95th about the median ms": _ms(
                float(np.percentile(np.abs(np.array(self.after_speaking_s) - median_s), 95))
                if median_s is not None
                else None
            ),
        }


def _ms(seconds: float | None) -> float | None:
    return None if seconds is None else 1000 * seconds


def share(part: float, whole: float) -> float | None:
    """None of nothing."""
    return part / whole if whole else None


def count_told(true: Sequence[TrueNote], heard: Sequence[Heard]) -> Count:
    """Each true note with the heard one of its index; starts are counted from the second on."""
    by_index = {note.index: note for note in heard if note.index is not None}
    reach_s = _reach_s(true)
    answers = [
        answer
        if (answer := by_index.get(index)) is not None and _answers(one, answer, reach_s)
        else None
        for index, one in enumerate(true)
    ]
    return _count(true, answers, sum(note.index is None for note in heard))


def count_in_time(true: Sequence[TrueNote], heard: Sequence[Heard]) -> Count:
    """Each true note with the nearest heard one that is free, whatever its index; the rest are
    extras."""
    free = [note for note in heard if note.onset_s is not None]
    reach_s = _reach_s(true)
    answers: list[Heard | None] = []
    for one in true:
        fitting = [note for note in free if _answers(one, note, reach_s)]
        answer = min(fitting, key=lambda note: _off_s(one, note), default=None)
        if answer is not None:
            free.remove(answer)
        answers.append(answer)
    return _count(true, answers, len(free))


def _off_s(true: TrueNote, heard: Heard) -> float:
    return abs((heard.onset_s or 0.0) - true.speaks_s)


def _count(true: Sequence[TrueNote], answers: Sequence[Heard | None], extras: int) -> Count:
    count = Count(takes=1, notes=len(true), extras=extras)
    for index, (one, answer) in enumerate(zip(true, answers, strict=True)):
        if answer is None:
            continue
        count.heard += 1
        assert answer.onset_s is not None
        count.after_speaking_s.append(answer.onset_s - one.speaks_s)
        count.after_stroke_s.append(answer.onset_s - one.stroke_s)
        if index:
            _count_start(count, one.slurred, answer)
    return count


def _count_start(count: Count, slurred: bool, answer: Heard) -> None:
    if answer.start is None or answer.start == NOT_JUDGED:
        count.not_judged += 1
        return
    right = answer.start == "slurred" if slurred else answer.start in STRUCK
    count.right += right
    count.wrong += not right
    count.claims.append((answer.certainty, right))


def _answers(true: TrueNote, heard: Heard, reach_s: float) -> bool:
    if heard.onset_s is None or heard.midi is None or heard.state == "missed":
        return False
    near = true.stroke_s - reach_s <= heard.onset_s <= true.speaks_s + reach_s
    return near and abs(heard.midi - true.midi) <= NEAR_SEMITONES


def _reach_s(true: Sequence[TrueNote]) -> float:
    steps_s = np.diff([note.speaks_s for note in true])
    return min(NEAR_S, float(np.median(steps_s)) / 2) if steps_s.size else NEAR_S


def reliability(claims: Sequence[tuple[float, bool]]) -> list[dict[str, float | int | None]]:
    """Claims by how sure the ear was: how many, how sure in the mean, how many right."""
    rows = []
    for low, high in itertools.pairwise(SURE_BINS):
        here = [c for c in claims if low <= c[0] < high or (high == 1.0 and c[0] >= high)]
        rows.append(
            {
                "from": low,
                "to": high,
                "starts": len(here),
                "certainty": float(np.mean([c[0] for c in here])) if here else None,
                "right": share(sum(c[1] for c in here), len(here)),
            }
        )
    return rows
