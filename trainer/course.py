"""The way through today's routine: which round comes next. Pure; the session walks it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from trainer.coach.breakdown import breakdown
from trainer.coach.knots import Knot
from trainer.coach.ladder import ClimbState, Felt, Ladder, after_round, begin
from trainer.coach.marks import Marks
from trainer.routine.model import FASTEST_BPM, SLOWEST_BPM
from trainer.routine.plan import PAUSE_AFTER_ROUND_S, PlannedExercise, at_tempo
from trainer.routine.round import Round, RoundKind


@dataclass(frozen=True)
class Course:
    """Where the student stands inside one exercise."""

    exercise: PlannedExercise
    pending: tuple[Round, ...]
    """Rounds still to come; the first is due now."""
    climb: ClimbState | None
    tempos: tuple[float, ...] = ()
    """Tempos of the rounds of this exercise so far."""
    repeats: int = 0
    """How often the round due now was already played in a row."""

    @property
    def due(self) -> Round | None:
        """The round to play now; None when the exercise is through."""
        return self.pending[0] if self.pending else None


def enter(exercise: PlannedExercise) -> Course:
    """The beginning of an exercise."""
    climb = None
    if exercise.climb is not None:
        asked = exercise.climb
        climb = begin(Ladder(asked.from_bpm, asked.to_bpm, asked.minutes))
    return Course(exercise, exercise.rounds, climb)


def played(course: Course, marks: Marks | None, felt: Felt | None) -> Course:
    """The course after the round due now was played and the student goes on."""
    round_ = course.pending[0]
    rest = course.pending[1:]
    course = replace(course, tempos=(*course.tempos, round_.tempo_bpm), repeats=0)
    if round_.kind is RoundKind.KNOT or course.climb is None:
        return replace(course, pending=rest)
    climb = climbed(course.climb, round_, marks, felt)
    course = replace(course, climb=climb)
    if climb.finished:
        return replace(course, pending=())
    return replace(course, pending=(at_tempo(round_, climb.tempo_bpm, round_.number + 1),))


def climbed(climb: ClimbState, round_: Round, marks: Marks | None, felt: Felt | None) -> ClimbState:
    """The climb after a round, the time of its count-in and of the pause after it included."""
    count_in_s = round_.count_in_beats * round_.beat_s
    return after_round(climb, marks, felt, count_in_s + round_.seconds + PAUSE_AFTER_ROUND_S)


def again(course: Course) -> Course:
    """The same round once more."""
    round_ = course.pending[0]
    return replace(
        course,
        tempos=(*course.tempos, round_.tempo_bpm),
        repeats=course.repeats + 1,
        pending=(replace(round_, number=round_.number + 1), *course.pending[1:]),
    )


def at_other_tempo(course: Course, factor: float) -> Course:
    """The round due now, slower or faster by a factor, to the next whole beat a minute."""
    if not course.pending:
        return course
    round_ = course.pending[0]
    tempo_bpm = min(FASTEST_BPM, max(SLOWEST_BPM, float(round(round_.tempo_bpm * factor))))
    changed = at_tempo(round_, tempo_bpm, round_.number)
    return replace(course, pending=(changed, *course.pending[1:]))


def take_out(course: Course, knot: Knot) -> Course:
    """Break a knot down; the breakdown's last round is the one due now, whole again."""
    round_ = course.pending[0]
    return replace(
        course,
        tempos=(*course.tempos, round_.tempo_bpm),
        pending=(
            *breakdown(knot, round_),
            *course.pending[1:],
        ),
    )
