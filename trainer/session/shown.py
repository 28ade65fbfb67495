"""What a view shows of the rounds."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.coach.advice import NextStep, Standing
from trainer.figures.note_figures import is_start_unsure
from trainer.music.pitch import Pitch
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round, RoundKind
from trainer.session.exercise_progress import ExerciseProgress
from trainer.session.round_recorder import RoundRecorder
from trainer.session.round_review import Outcome
from trainer.session.untimed_round import UntimedRound
from trainer.session.view import SOUNDING, Stage

UnderWay = RoundRecorder | UntimedRound


def round_shown(
    stage: Stage, under_way: UnderWay | None, outcome: Outcome | None, due: Round | None
) -> Round | None:
    """The round just played, the one under way, or the one due."""
    if outcome is not None:
        return outcome.round
    if stage in (*SOUNDING, Stage.WEIGHING) and under_way is not None:
        return under_way.round
    return due


def beat_now(stage: Stage, under_way: UnderWay | None) -> float | None:
    """The beat sounding now, where a round sounds."""
    return under_way.beat if stage in SOUNDING and under_way is not None else None


def note_due(round_: Round, beat: float) -> int:
    """The note sounding at this beat, the first one during the count-in.

    While the partner has its turn it is the student's next one.
    """
    if round_.partner_notes:
        ahead = (note.index for note in round_.notes if note.beat + note.length > beat)
        return next(ahead, round_.notes[-1].index)
    due = 0
    for note in round_.notes:
        if note.beat > beat:
            break
        due = note.index
    return due


def standing_now(stage: Stage, under_way: UnderWay | None) -> Standing | None:
    """What the due note needs, where the round under way is out of time."""
    if stage is Stage.PLAYING and isinstance(under_way, UntimedRound):
        return under_way.standing
    return None


def off_beat_ms(outcome: Outcome) -> tuple[float | None, ...]:
    """Each note of the round just played off the player's own line; empty where none listened."""
    marks = outcome.marks
    return () if marks is None else tuple(mark.off_ms for mark in marks.notes)


def starts_unsure(outcome: Outcome) -> frozenset[int]:
    """The notes of the round just played whose start was not judged."""
    take = outcome.take
    return frozenset(
        note.index
        for note in (() if take is None else take.expected_notes)
        if note.index is not None and is_start_unsure(note.start, note.start_certainty)
    )


def knot_ahead(outcome: Outcome | None, round_: Round | None) -> tuple[Pitch, ...]:
    """Written notes of the knot that comes next, or is practised in the round shown."""
    if (
        outcome is not None
        and outcome.knot is not None
        and outcome.proposal.step is NextStep.TAKE_OUT
    ):
        return outcome.knot.pitches
    if round_ is not None and round_.kind is RoundKind.KNOT:
        return tuple(dict.fromkeys(note.pitch for note in round_.notes))
    return ()


def follows(course: ExerciseProgress | None, later: Sequence[PlannedExercise]) -> str:
    """What comes when the round just played is behind us: 'D major, legato tongue', 'Rope ladder';
    empty at the end of the routine."""
    if course is not None and len(course.pending) > 1:
        following = course.pending[1]
        return f"{following.title}, {following.articulation}"
    return next((exercise.title for exercise in later if exercise.title), "")
