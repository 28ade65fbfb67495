"""Out of time: notes that all come from one side, and notes that took long to stand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import median

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.observation import Observation


def in_settling(marks: Marks, _: Sequence[Marks]) -> Iterator[Observation]:
    """All notes coming from one side, and notes that took long to stand."""
    began = [note for note in marks.judged if note.first_cents is not None]
    one_side = list(_from_one_side(began))
    yield from one_side or _slow_to_stand(marks)


def _from_one_side(began: Sequence[NoteMark]) -> Iterator[Observation]:
    first = [note.first_cents for note in began if note.first_cents is not None]
    if len(first) < thresholds.REGISTER_NOTES:
        return
    amount = median(first)
    same_way = sum(cents * amount > 0 for cents in first)
    if abs(amount) >= thresholds.REGISTER_CENTS and same_way >= thresholds.MOSTLY * len(first):
        yield Observation(
            Topic.SETTLING,
            abs(amount) / thresholds.REGISTER_CENTS,
            tuple(map(_stood, began)),
            tuple(note.index for note in began),
            amount=amount,
            times=len(first),
            detail="all",
        )


def _slow_to_stand(marks: Marks) -> Iterator[Observation]:
    slow = [note for note in marks.judged if _strength(note) >= 1]
    if slow:
        worst = max(slow, key=_strength)
        yield Observation(
            Topic.SETTLING,
            _strength(worst),
            tuple(map(_stood, marks.judged)),
            tuple(note.index for note in slow),
            amount=worst.first_cents or 0.0,
            frm=worst.written,
            times=len(slow),
            detail="never" if worst.waited_s is None else f"{worst.waited_s:.0f}",
        )


def _strength(note: NoteMark) -> float:
    """How far over the line; a note that never stood is well over it."""
    waited = 2.0 if note.waited_s is None else note.waited_s / thresholds.SLOW_TO_STAND_S
    return max(waited, abs(note.first_cents or 0.0) / thresholds.BEGAN_OFF_CENTS)


def _stood(note: NoteMark) -> str:
    began = "" if note.first_cents is None else f" began {note.first_cents:+.0f} cents,"
    if note.waited_s is None:
        return f"{note.written}{began} never settled"
    return f"{note.written}{began} settled after {note.waited_s:.1f} s at {note.cents or 0:+.0f}"
