"""The way through today's routine: which round comes next. Pure; the session walks it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

from trainer.coach.advice import UNJUDGED, Felt, Topic
from trainer.coach.breakdown import (
    MOST_RETURNING,
    Ahead,
    KnotVerdict,
    ahead,
    breakdown,
    knot_verdict,
    returning,
)
from trainer.coach.climb import after_round, begin
from trainer.coach.history import SECURE_DAYS, History
from trainer.coach.knots import Knot
from trainer.coach.ladder import ClimbState, TempoLadder
from trainer.coach.marks import Marks
from trainer.routine.model import FASTEST_BPM, SLOWEST_BPM
from trainer.routine.plan import PAUSE_AFTER_ROUND_S, PlannedExercise, at_tempo
from trainer.routine.practice_until import NO_TRIES, Tries, Until
from trainer.routine.round import Round, RoundKind


@dataclass(frozen=True)
class ExerciseProgress:
    """Where the student stands inside one exercise."""

    exercise: PlannedExercise
    pending: tuple[Round, ...]
    """Rounds still to come; the first is due now."""
    climb: ClimbState | None
    tempos: tuple[float, ...] = ()
    """Tempos of the whole rounds of this exercise so far."""
    repeats: int = 0
    """How often the round due now was already played in a row."""
    tries: Tries = NO_TRIES
    """How it has gone with the round due now, where the teacher's rule asks for it again."""
    knot_verdict: tuple[KnotVerdict, ...] = ()
    """How the rounds of the breakdown under way went."""

    @property
    def due(self) -> Round | None:
        """The round to play now; None when the exercise is through."""
        return self.pending[0] if self.pending else None


def enter(exercise: PlannedExercise, history: History | None = None) -> ExerciseProgress:
    """The beginning of an exercise, with what earlier days have left to do."""
    rounds, climb = exercise.rounds, None
    if exercise.climb is not None:
        asked = exercise.climb
        ladder = TempoLadder(asked.from_bpm, asked.to_bpm, asked.minutes, asked.in_turns)
        before = history.climbed_bpm.get(exercise.id) if history is not None else None
        climb = begin(ladder, before)
        rounds = (*rounds[:-1], at_tempo(rounds[-1], climb.tempo_bpm, rounds[-1].number))
    if history is not None and exercise.mixes:
        rounds = _mixed(rounds, exercise.id, history)
    if history is not None and rounds:
        due = history.knots_due(exercise.id)
        if exercise.spots:
            due = history.last_knots(exercise.id, exercise.spots)
        in_time = next((round_ for round_ in rounds if round_.in_time), rounds[0])
        rounds = (*returning(due, in_time, exercise.spots or MOST_RETURNING), *rounds)
    return ExerciseProgress(exercise, rounds, climb)


def _mixed(rounds: tuple[Round, ...], exercise_id: str, history: History) -> tuple[Round, ...]:
    """The rounds in an order drawn for the day, once all of them were secure."""
    if history.secure_days(exercise_id) < SECURE_DAYS:
        return rounds
    drawn = Random(f"{history.today} {exercise_id}").sample(rounds, len(rounds))
    return tuple(replace(one, number=number) for number, one in enumerate(drawn, start=1))


@dataclass(frozen=True)
class RoundPlayed:
    """A round just played, with what decides what follows it."""

    marks: Marks | None
    """None where nobody listened."""
    felt: Felt | None = None
    topic: Topic | None = None
    """What was said of it."""
    earlier: tuple[Marks, ...] = ()
    """The session's rounds before it, oldest first."""


def after_knot(course: ExerciseProgress, round_: RoundPlayed) -> Ahead:
    """What follows the knot's round due now."""
    return ahead(course.pending, (*course.knot_verdict, _knot_verdict(round_)))


def _knot_verdict(round_: RoundPlayed) -> KnotVerdict:
    return knot_verdict(round_.marks, round_.felt, round_.earlier, round_.topic)


def played(course: ExerciseProgress, now: RoundPlayed) -> ExerciseProgress:
    """The course after the round due now was played and the student goes on."""
    round_ = course.pending[0]
    rest = course.pending[1:]
    counted = round_.in_time and round_.kind is not RoundKind.KNOT
    tempos = (*course.tempos, round_.tempo_bpm) if counted else course.tempos
    course = replace(course, tempos=tempos, repeats=0)
    if round_.in_time and round_.kind is not RoundKind.KNOT and course.exercise.until:
        return _until_right(course, now, course.exercise.until)
    if round_.kind is RoundKind.KNOT:
        return _after_knot_round(course, now)
    if round_.kind is RoundKind.SETTLING or course.climb is None:
        return replace(course, pending=rest)
    climb = climbed(course.climb, round_, now)
    course = replace(course, climb=climb)
    if climb.finished:
        return replace(course, pending=())
    return replace(course, pending=(at_tempo(round_, climb.tempo_bpm, round_.number + 1),))


def _until_right(course: ExerciseProgress, now: RoundPlayed, until: Until) -> ExerciseProgress:
    """The same round again, at the tempo the rule leads to, until it is over."""
    tries = course.tries.after(until, right(now))
    if tries.over(until):
        return replace(course, pending=course.pending[1:], tries=NO_TRIES)
    round_ = course.pending[0]
    asked_bpm = round_.tempo_bpm / course.tries.tempo_share
    tempo_bpm = max(SLOWEST_BPM, asked_bpm * tries.tempo_share)
    once_more = at_tempo(round_, tempo_bpm, round_.number + 1)
    return replace(course, pending=(once_more, *course.pending[1:]), tries=tries)


def right(now: RoundPlayed) -> bool | None:
    """Whether a round was right as the aims say; the player's word where nobody listened.

    None where it could not be told.
    """
    if now.topic in UNJUDGED and now.marks is not None:
        return None
    if now.marks is None:
        return None if now.felt is None else now.felt is not Felt.HARD
    return now.marks.aims_met


def _after_knot_round(course: ExerciseProgress, now: RoundPlayed) -> ExerciseProgress:
    went = (*course.knot_verdict, _knot_verdict(now))
    following = ahead(course.pending, went).rounds
    over = not following or following[0].kind is not RoundKind.KNOT
    return replace(course, pending=following, knot_verdict=() if over else went)


def climbed(climb: ClimbState, round_: Round, now: RoundPlayed) -> ClimbState:
    """The climb after a round, the time of its count-in and of the pause after it included."""
    lead_in_s = round_.lead_in_beats * round_.beat_s
    spent_s = lead_in_s + round_.seconds + PAUSE_AFTER_ROUND_S
    return after_round(climb, now.marks, now.felt, spent_s, now.topic or Topic.SECURE)


def again(course: ExerciseProgress) -> ExerciseProgress:
    """The same round once more."""
    return replace(
        broken_off(course),
        tempos=(*course.tempos, course.pending[0].tempo_bpm),
        repeats=course.repeats + 1,
    )


def broken_off(course: ExerciseProgress) -> ExerciseProgress:
    """The same round under its next number: the one before was not played to its end."""
    round_ = course.pending[0]
    return replace(course, pending=(replace(round_, number=round_.number + 1), *course.pending[1:]))


def at_other_tempo(course: ExerciseProgress, factor: float) -> ExerciseProgress:
    """The round due now, slower or faster by a factor, to the next whole beat a minute."""
    if not course.pending:
        return course
    round_ = course.pending[0]
    tempo_bpm = min(FASTEST_BPM, max(SLOWEST_BPM, float(round(round_.tempo_bpm * factor))))
    changed = at_tempo(round_, tempo_bpm, round_.number)
    return replace(course, pending=(changed, *course.pending[1:]))


def take_out(course: ExerciseProgress, knot: Knot) -> ExerciseProgress:
    """Break a knot down; the breakdown's last round is the one due now, whole again."""
    round_ = course.pending[0]
    return replace(
        course,
        tempos=(*course.tempos, round_.tempo_bpm),
        knot_verdict=(),
        pending=(
            *breakdown(knot, round_),
            *course.pending[1:],
        ),
    )
