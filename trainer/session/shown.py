"""What a view shows of the rounds."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.coach.advice import NextStep, Standing
from trainer.coach.ladder import ClimbState
from trainer.coach.observations.two_colours import in_another_colour
from trainer.figures.note_figures import is_start_unsure
from trainer.music.pitch import Pitch
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round, RoundKind
from trainer.session.exercise_progress import ExerciseProgress
from trainer.session.round_recorder import RoundRecorder
from trainer.session.round_review import Outcome
from trainer.session.untimed_round import UntimedRound
from trainer.session.view import SOUNDING, ClimbShown, HeldPulse, OtherColour, Stage

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
    """The note sounding at this beat, the partner's in its turns; the first one in the count-in."""
    begun = [note for note in round_.printed if note.beat <= beat]
    return (begun or round_.printed)[-1 if begun else 0].index


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
        return f"{following.title}, {following.how}"
    return next((exercise.title for exercise in later if exercise.title), "")


def climb_shown(climb: ClimbState | None) -> ClimbShown | None:
    """Where a climb begins and leads, and what held so far."""
    if climb is None:
        return None
    return ClimbShown(climb.ladder.from_bpm, climb.ladder.to_bpm, climb.best_bpm)


def pulses(outcome: Outcome) -> tuple[HeldPulse, ...]:
    """The vibrato heard on the held notes of a round that asks for one."""
    asked = outcome.round.manner.vibrato
    if outcome.marks is None or asked is None or asked.per_beat == 0:
        return ()
    return tuple(
        HeldPulse(mark.index, mark.pulse.hz * outcome.round.beat_s)
        for mark in outcome.marks.notes
        if mark.pulse is not None
    )


def other_colour(outcome: Outcome) -> OtherColour | None:
    """The phrase in the colour before this one, where it was played in another."""
    if outcome.marks is None:
        return None
    before = in_another_colour(outcome.marks, outcome.earlier)
    if before is None:
        return None
    return OtherColour(
        before.manner.colour,
        tuple(mark.cents for mark in before.notes),
        tuple(mark.tone.harmonic_balance_db if mark.tone else None for mark in before.notes),
    )
