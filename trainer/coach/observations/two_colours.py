"""A phrase in two colours: the tuning kept, the colour changed, as far as a microphone can tell."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from statistics import median

import numpy as np

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.observation import (
    Observation,
    sure_median,
)
from trainer.figures.enough import FIGURE_NOTES


def in_colours(marks: Marks, earlier: Sequence[Marks]) -> Iterator[Observation]:
    """This colour against the player's last round in another one: tuning kept, colour changed."""
    before = in_another_colour(marks, earlier)
    if before is None:
        return
    pairs = [
        (now, then)
        for now, then in zip(marks.notes, before.notes, strict=False)
        if now.clean and then.clean and now.written == then.written
    ]
    yield from _tuning_kept(marks, before, pairs)
    yield from _same_colour(marks, before, pairs)


def in_another_colour(marks: Marks, earlier: Sequence[Marks]) -> Marks | None:
    """The newest round of the same exercise in another colour; None where no colour is asked."""
    if not marks.manner.colour:
        return None
    others = (
        other
        for other in reversed(earlier)
        if (other.exercise_id, other.kind) == (marks.exercise_id, marks.kind)
        and other.manner.colour != marks.manner.colour
    )
    return next(others, None)


def _tuning_kept(
    marks: Marks, before: Marks, pairs: Sequence[tuple[NoteMark, NoteMark]]
) -> Iterator[Observation]:
    moved = [
        now.cents - then.cents
        for now, then in pairs
        if now.cents is not None and then.cents is not None
    ]
    if len(moved) < FIGURE_NOTES:
        return
    amount = sure_median(moved, thresholds.REGISTER_CENTS, thresholds.STEADIEST_CENTS)
    if amount is not None:
        yield Observation(
            Topic.COLOUR,
            abs(amount) / thresholds.REGISTER_CENTS,
            (
                f"'{marks.manner.colour}' against '{before.manner.colour}', "
                f"{len(moved)} notes: {amount:+.0f} cents",
            ),
            tuple(now.index for now, _ in pairs),
            amount=amount,
            times=len(moved),
            detail=f"{marks.manner.colour}/{before.manner.colour}",
        )


def _same_colour(
    marks: Marks, before: Marks, pairs: Sequence[tuple[NoteMark, NoteMark]]
) -> Iterator[Observation]:
    """Where the pitches agree that nothing changed: a room moves a pitch's overtones by decibels
    when it is played a few cents off, so that few of them, or scattered ones, prove nothing."""
    of_pitch: dict[int, list[float]] = defaultdict(list)
    for now, then in pairs:
        if now.tone is not None and then.tone is not None:
            change_db = now.tone.harmonic_balance_db - then.tone.harmonic_balance_db
            of_pitch[now.written.midi].append(change_db)
    times, changes = sum(map(len, of_pitch.values())), list(map(median, of_pitch.values()))
    if times < FIGURE_NOTES or len(changes) < 2:
        return
    amount = median(changes)
    error = float(np.std(changes, ddof=1) / np.sqrt(len(changes)))
    if abs(amount) + thresholds.ALIKE_ERRORS * error < thresholds.SAME_COLOUR_DB:
        yield Observation(
            Topic.COLOUR,
            1.0,
            (
                f"overtones of {times} notes: {amount:+.1f} dB apart",
                "as far as a microphone can tell; your ears may tell more",
            ),
            (),
            amount=0.0,
            times=times,
            detail=f"same:{marks.manner.colour}/{before.manner.colour}",
        )
