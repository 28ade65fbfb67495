"""Where the student stands in an exercise, and what came of the round just played."""

from __future__ import annotations

from datetime import datetime

from trainer.coach.advice import Felt
from trainer.coach.history import History
from trainer.coach.marks import Marks
from trainer.ear.heard import Take
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round
from trainer.session.exercise_progress import (
    ExerciseProgress,
    again,
    at_other_tempo,
    broken_off,
    enter,
)
from trainer.session.round_review import Outcome, RoundReviewer, with_felt


class CurrentExercise:
    """The course through the exercise that was entered last, and the newest outcome in it."""

    def __init__(self, history: History | None) -> None:
        self._history = history
        self._lesson = RoundReviewer(history)
        self.course: ExerciseProgress | None = None
        self.outcome: Outcome | None = None
        self._left: dict[str, ExerciseProgress] = {}
        """Exercises that were left before their end."""

    @property
    def due(self) -> Round | None:
        """The round to play next; None when the exercise is through."""
        return None if self.course is None else self.course.due

    def enter(self, exercise: PlannedExercise) -> None:
        """Stand where this exercise was left, else at its beginning."""
        if self.course is not None and self.course.due is not None:
            self._left[self.course.exercise.id] = self.course
        left = self._left.pop(exercise.id, None)
        self.course = enter(exercise, self._history) if left is None else left
        self.outcome = None

    def played(
        self,
        round_: Round,
        heard: tuple[Take, Marks] | None,
        started: datetime,
        seconds: float,
        felt: Felt | None,
    ) -> Outcome:
        """The round due was played: what came of it. The course stays until `go_on`."""
        assert self.course is not None
        self.outcome = self._lesson.outcome(self.course, round_, heard, started, seconds, felt)
        return self.outcome

    def last_note_cents(self) -> tuple[float | None, ...]:
        """Where each note of the round due stood the last time it was played."""
        return () if self.due is None else self._lesson.last_note_cents(self.due)

    def dispute(self) -> Outcome | None:
        """The student disagrees: the outcome with the next most useful thing to say.

        None where nothing was claimed.
        """
        if self.outcome is None or self.course is None:
            return None
        other = self._lesson.disputed(self.outcome, self.course)
        self.outcome = other or self.outcome
        return other

    def feel(self, felt: Felt) -> Outcome | None:
        """The outcome with how it felt to the student; None where no round was just played."""
        if self.outcome is None or self.course is None:
            return None
        self.outcome = with_felt(self.outcome, felt, self.course)
        return self.outcome

    def go_on(self) -> None:
        """The round just played is behind us; the course moves on as proposed."""
        if self.outcome is not None and self.course is not None:
            self.course = self._lesson.onward(self.outcome, self.course)
        self.outcome = None

    def again(self) -> None:
        """The round just played is due once more."""
        assert self.course is not None
        self.course = again(self.course)
        self.outcome = None

    def broken_off(self) -> None:
        """The round just played was not played to its end: it is still due."""
        assert self.course is not None
        self.course = broken_off(self.course)
        self.outcome = None

    def change_tempo(self, factor: float) -> None:
        """The round due is slower or faster by the factor."""
        assert self.course is not None
        self.course = at_other_tempo(self.course, factor)
