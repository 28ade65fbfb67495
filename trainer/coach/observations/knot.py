"""A knot being taken out: only the knot's own notes count.

Its rounds are short, and where one step is late every other note follows from it: groups, evenness
and tempo would tell of the same late note again, so they are left alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.finger_changes import why_hard
from trainer.coach.marks import Marks
from trainer.coach.observations.observation import NoteStep, Observation, names, steps_of
from trainer.figures.note_figures import LATE_MS
from trainer.figures.robust import robust_spread
from trainer.routine.round import RoundKind

_MEDIAN_ERROR = 1.25
"""Standard error of a median against that of a mean, for normal errors."""


def in_knot(marks: Marks, earlier: Sequence[Marks]) -> Iterator[Observation]:
    """The knot's own steps: notes lost, false notes between, late against the notes around."""
    own = own_steps(marks, earlier)
    for between in dict.fromkeys(step.between for step in own):
        steps = [step for step in own if step.between == between]
        yield from _lost(steps)
        yield from _blips(steps)
        yield from _late(steps, marks, own)


def own_steps(marks: Marks, earlier: Sequence[Marks]) -> tuple[NoteStep, ...]:
    """The judged steps inside the knot, in order."""
    own = _own_pitches(marks, earlier)
    return tuple(step for step in steps_of([marks]) if set(step.between) <= own)


@dataclass(frozen=True)
class Behind:
    """How late the knot's steps arrive against the other notes of the round."""

    ms: float
    error_ms: float
    """Standard error of the difference of the two medians."""

    @property
    def late(self) -> bool:
        """Late enough to be heard, and surely."""
        return self.ms >= max(LATE_MS, thresholds.CERTAIN * self.error_ms)

    @property
    def in_time(self) -> bool:
        """Surely nearer than a late note would be."""
        return abs(self.ms) + self.error_ms < thresholds.GROUP_MS


def behind(steps: Sequence[NoteStep], marks: Marks, own: Sequence[NoteStep]) -> Behind | None:
    """These steps against the round's notes outside all of the knot's own steps.

    None where too few of either were placed: a round of the knot alone has nothing to lean on.
    """
    reached = {step.to.index for step in own}
    inside = _placed(steps)
    outside = [
        note.off_ms for note in marks.heard if note.off_ms is not None and note.index not in reached
    ]
    enough = len(inside) >= thresholds.HABIT_TIMES and len(outside) >= thresholds.REGISTER_NOTES
    if marks.blurred or not enough:
        return None
    spread_ms = max(thresholds.STEADIEST_MS, robust_spread(inside), robust_spread(outside))
    error_ms = _MEDIAN_ERROR * spread_ms * float(np.sqrt(1 / len(inside) + 1 / len(outside)))
    return Behind(float(np.median(inside) - np.median(outside)), error_ms)


def _own_pitches(marks: Marks, earlier: Sequence[Marks]) -> frozenset[int]:
    """MIDI numbers of the knot's notes: the first round of a breakdown holds them alone."""
    for other in (marks, *reversed(earlier)):
        if other.kind is not RoundKind.KNOT or other.exercise_id != marks.exercise_id:
            break
        if other.round_number == 1:
            return frozenset(note.written.midi for note in other.notes)
    return frozenset(note.written.midi for note in marks.notes)


def _lost(steps: Sequence[NoteStep]) -> Iterator[Observation]:
    lost = [step.to for step in steps if step.to.missed or step.to.wrong is not None]
    if _often(len(lost), len(steps)):
        yield Observation(
            Topic.NOTES,
            len(lost) / thresholds.HABIT_TIMES,
            (f"{_name(steps)}: lost {len(lost)} of {len(steps)} times",),
            tuple(note.index for note in lost),
            times=len(lost),
            chances=len(steps),
            detail=names(note.written for note in lost),
        )


def _blips(steps: Sequence[NoteStep]) -> Iterator[Observation]:
    blips = [step for step in steps if step.to.blip]
    if _often(len(blips), len(steps)):
        yield _about(
            Topic.BLIP,
            blips,
            len(blips) / thresholds.HABIT_TIMES,
            f"a false note between them {len(blips)} of {len(steps)} times",
            chances=len(steps),
        )


def _late(
    steps: Sequence[NoteStep], marks: Marks, own: Sequence[NoteStep]
) -> Iterator[Observation]:
    found = behind(steps, marks, own)
    if found is None or not found.late:
        return
    yield _about(
        Topic.CROSSING,
        [step for step in steps if step.to.off_ms is not None],
        found.ms / LATE_MS,
        f"{found.ms:.0f} ms behind the notes around it",
        chances=len(_placed(steps)),
        amount=found.ms,
    )


def _about(
    topic: Topic,
    steps: Sequence[NoteStep],
    strength: float,
    evidence: str,
    chances: int,
    amount: float = 0.0,
) -> Observation:
    frm, to = steps[0].frm.written, steps[0].to.written
    return Observation(
        topic,
        strength,
        (f"{_name(steps)}: {evidence}",),
        tuple(sorted({index for step in steps for index in (step.frm.index, step.to.index)})),
        amount=amount,
        frm=frm,
        to=to,
        times=len(steps),
        chances=chances,
        detail=why_hard(frm, to) or "",
    )


def _often(times: int, chances: int) -> bool:
    return times >= thresholds.HABIT_TIMES and times >= thresholds.HABIT_RATE * chances


def _placed(steps: Sequence[NoteStep]) -> list[float]:
    return [step.to.off_ms for step in steps if step.to.off_ms is not None]


def _name(steps: Sequence[NoteStep]) -> str:
    return f"{steps[0].frm.written}–{steps[0].to.written}"
