"""What is put on paper or into a file: the exercises of a day, each with its rounds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.errors import ScoreError
from trainer.music.articulations import ArticulationPattern
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round

PARTNER = "Partner"
"""What the second part is called on paper and in files."""


@dataclass(frozen=True)
class Section:
    """Music that is written out once: one exercise, or its rounds with notes of their own."""

    title: str
    exercise: PlannedExercise
    round: Round
    """The round that is written out."""


def music_of(planned: Sequence[PlannedExercise]) -> tuple[Section, ...]:
    """The sections of a day. Raises ScoreError on a day without music."""
    found = sections(planned)
    if not found:
        raise ScoreError("Nothing is played on this day: choose another with --day.")
    return found


def sections(planned: Sequence[PlannedExercise]) -> tuple[Section, ...]:
    """Each exercise's music; rounds that differ only in how notes are begun are written once.

    Patterns of slurs and strokes are each written out.
    """
    found: list[Section] = []
    for exercise in planned:
        written: set[object] = set()
        for round_ in exercise.rounds:
            slurs = round_.articulation if _is_pattern(round_) else None
            paper = tuple((note.pitch, note.beat, note.length) for note in round_.notes), slurs
            if paper not in written:
                title = (
                    exercise.title if not written else f"{exercise.title}, round {round_.number}"
                )
                found.append(Section(title, exercise, round_))
            written.add(paper)
    return tuple(found)


def _is_pattern(round_: Round) -> bool:
    return isinstance(round_.articulation, ArticulationPattern)


def chosen(planned: Sequence[PlannedExercise], exercise: str | None) -> Sequence[PlannedExercise]:
    """The exercise of this name, or all. Raises ScoreError naming those there are."""
    if exercise is None:
        return planned
    found = [one for one in planned if one.id == exercise]
    if not found or not found[0].rounds:
        names = ", ".join(one.id for one in planned if one.rounds)
        raise ScoreError(f"--exercise: write one of {names}")
    return found
