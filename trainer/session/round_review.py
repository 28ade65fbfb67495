"""What the coach makes of each round of a session: the one thing said, and what comes next."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from trainer.coach.advice import NO_FAULT, Advice, Felt, LastTime, NextStep, Proposal, Topic
from trainer.coach.climb import verdict_in
from trainer.coach.history import History, PastRound
from trainer.coach.judge import judge
from trainer.coach.knots import Knot, knots_in
from trainer.coach.last_time import last_note_cents, last_time, past_round
from trainer.coach.line_played import is_unplayed, unplayed
from trainer.coach.lone_misses import with_doubt
from trainer.coach.marks import Marks
from trainer.coach.next_step import propose
from trainer.coach.round_verdict import RoundVerdict, round_verdict
from trainer.coach.words import advise
from trainer.ear.heard import Take
from trainer.journal.log import RoundLog
from trainer.routine.practice_until import Until
from trainer.routine.round import Round, RoundKind, Unjudged
from trainer.session.exercise_progress import (
    ExerciseProgress,
    RoundPlayed,
    after_knot,
    again,
    at_other_tempo,
    climbed,
    played,
    right,
    take_out,
)
from trainer.session.round_log import round_log
from trainer.wording.sentence_list import say

MOST_REPEATS = 1
"""How often the coach asks for the same round again before it goes on regardless."""
REMEMBERED_ROUNDS = 40
KNOTTY = frozenset({RoundKind.TECHNIQUE, RoundKind.CLIMB, RoundKind.PASSAGE, RoundKind.BREATH})
"""Kinds of round in which fingers tie knots worth taking out."""
UNHEARD = Advice(Topic.UNHEARD, say("no microphone"), ())


def _marked_done(asked: Unjudged) -> Advice:
    """A round that nobody can judge but the player."""
    return Advice(Topic.UNHEARD, say("marked done", asked=asked.capitalize()), ())


@dataclass(frozen=True)
class Outcome:
    """What came of a round."""

    round: Round
    take: Take | None
    marks: Marks | None
    advice: Advice
    proposal: Proposal
    knot: Knot | None
    log: RoundLog
    earlier: tuple[Marks, ...]
    """The session's rounds before it, oldest first."""
    felt: Felt | None = None
    last_time: LastTime | None = None
    """The round beside the last time it was played."""

    @property
    def played(self) -> RoundPlayed:
        """What of it decides what follows."""
        return RoundPlayed(self.marks, self.felt, self.advice.topic, self.earlier)


class RoundReviewer:
    """The rounds of one session as the coach remembers them."""

    def __init__(self, history: History | None) -> None:
        """`history`: what earlier days have left; None where nothing is known of them."""
        self._history = history
        self._marks: tuple[Marks, ...] = ()
        self._played: tuple[PastRound, ...] = ()
        self._taken_out: set[str] = set()
        self._disputed: dict[str, frozenset[Topic]] = {}

    def outcome(
        self,
        course: ExerciseProgress,
        round_: Round,
        heard: tuple[Take, Marks] | None,
        started: datetime,
        seconds: float,
        felt: Felt | None,
    ) -> Outcome:
        """A round just played: the one thing to say, what comes next, and its log."""
        earlier = self._marks
        asked = round_.manner.unjudged
        if asked is not None:
            heard = None
        take, marks = heard if heard is not None else (None, None)
        advice, knot, before = UNHEARD if asked is None else _marked_done(asked), None, None
        if take is not None and marks is not None:
            self._marks = (*earlier, marks)[-REMEMBERED_ROUNDS:]
            take, (*before_it, marks) = with_doubt(take, self._marks)
            earlier = tuple(before_it)
            advice = self._advise(round_, take, marks, earlier)
            if is_unplayed(marks):
                take = unplayed(take, marks)
                marks = judge(round_, take)
                self._marks = (*self._marks[:-1], marks)
            knot = self._new_knot(marks, earlier, advice)
            before = self._last_time(past_round(round_, marks, advice.topic))
            heard = take, marks
        log = round_log(
            round_,
            heard,
            advice_sentence=advice.sentence,
            topic=advice.topic if take is not None else None,
            strength=advice.strength,
            started=started,
            seconds=seconds,
        )
        going_on = Proposal(NextStep.GO_ON, "")
        out = Outcome(round_, take, marks, advice, going_on, knot, log, earlier, felt, before)
        return _judged(out, course)

    def last_note_cents(self, round_: Round) -> tuple[float | None, ...]:
        """Where each note stood the last time this round was played, before it is played again."""
        return last_note_cents(past_round(round_), self._played, self._history)

    def disputed(self, out: Outcome, course: ExerciseProgress) -> Outcome | None:
        """The student disagrees: the next most useful thing; None where nothing was claimed."""
        if out.take is None or out.marks is None or out.advice.topic in NO_FAULT:
            return None
        here = out.round.exercise_id
        self._disputed[here] = self._disputed.get(here, frozenset()) | {out.advice.topic}
        advice = self._advise(out.round, out.take, out.marks, out.earlier)
        knot = None if advice.topic in NO_FAULT else out.knot
        other = replace(
            out, advice=advice, knot=knot, log=replace(out.log, disagreed=True, secure=None)
        )
        return replace(other, proposal=_proposal(other, course))

    def onward(self, out: Outcome, course: ExerciseProgress) -> ExerciseProgress:
        """The round is behind us: the course moved on as proposed."""
        step, tempo_bpm = out.proposal.step, out.proposal.tempo_bpm
        if step is NextStep.TAKE_OUT and out.knot is not None:
            self._taken_out.add(out.knot.name)
            return take_out(course, out.knot)
        own_rule = course.climb is not None or course.exercise.until is not None
        repeats = step in (NextStep.AGAIN, NextStep.SLOWER) and not own_rule
        if repeats and course.repeats < MOST_REPEATS:
            course = again(course)
            if tempo_bpm is None:
                return course
            return at_other_tempo(course, tempo_bpm / out.round.tempo_bpm)
        return played(course, out.played)

    def _advise(
        self, round_: Round, take: Take, marks: Marks, earlier: tuple[Marks, ...]
    ) -> Advice:
        disputed = self._disputed.get(round_.exercise_id, frozenset())
        return advise(round_, take, marks, earlier, self._history, disputed)

    def _last_time(self, now: PastRound) -> LastTime | None:
        """The round beside the last time it was played; from now on it is itself remembered."""
        before = last_time(now, self._played, self._history)
        self._played = (*self._played, now)[-REMEMBERED_ROUNDS:]
        return before

    def _new_knot(self, marks: Marks, earlier: tuple[Marks, ...], advice: Advice) -> Knot | None:
        """A knot in this exercise that was not taken out yet this session; none after a round of
        which nothing bad was said."""
        if marks.kind not in KNOTTY or advice.topic in NO_FAULT:
            return None
        here = [other for other in earlier if other.exercise_id == marks.exercise_id]
        knots = knots_in((*here, marks))
        return next((knot for knot in knots if knot.name not in self._taken_out), None)


def with_felt(out: Outcome, felt: Felt, course: ExerciseProgress) -> Outcome:
    """The student has said how it felt; in a climb that may change what comes next."""
    return _judged(replace(out, felt=felt, log=replace(out.log, felt=str(felt))), course)


def _judged(out: Outcome, course: ExerciseProgress) -> Outcome:
    """What comes next, and whether the log may call the round secure: both as the climb has it
    where there is one."""
    if out.round.kind is RoundKind.CLIMB and out.marks is not None:
        said = out.marks, out.felt, out.advice.topic
        went = verdict_in(course.climb, *said) if course.climb else round_verdict(*said)
        out = replace(out, log=replace(out.log, secure=SECURE_TEMPO.get(went)))
    return replace(out, proposal=_proposal(out, course))


SECURE_TEMPO = {
    RoundVerdict.EASY: True,
    RoundVerdict.WELL: True,
    RoundVerdict.JUST: True,
    RoundVerdict.NOT_CLEAN: False,
    RoundVerdict.BROKE: False,
}
"""Whether a tempo held; not judged where it isn't named."""


def _proposal(out: Outcome, course: ExerciseProgress) -> Proposal:
    """What comes next: the knot, the climb's own step, or what the round alone calls for."""
    round_, marks = out.round, out.marks
    if round_.kind is RoundKind.KNOT:
        return Proposal(NextStep.GO_ON, after_knot(course, out.played).why)
    untold = marks is None and course.climb is None and course.exercise.until is None
    if not round_.in_time or untold:
        return Proposal(NextStep.GO_ON, "")
    if course.exercise.until is not None:
        return _until_right(out, course, course.exercise.until)
    if (knot := out.knot) is not None:
        return Proposal(NextStep.TAKE_OUT, say("take the spot out", spot_note=knot.name))
    if course.climb is not None:
        return _in_climb(out, course)
    assert marks is not None, "a climb alone is judged unheard"
    proposal = propose(round_, marks, out.advice, out.earlier)
    if proposal.step is NextStep.TAKE_OUT:  # taken out already today
        return Proposal(NextStep.GO_ON, say("enough for today"))
    return proposal


def _until_right(out: Outcome, course: ExerciseProgress, until: Until) -> Proposal:
    """Again, a step back or on, as the teacher's rule has it."""
    tries = course.tries.after(until, right(out.played))
    if tries.reached(until):
        return Proposal(NextStep.GO_ON, say("right often enough"))
    if tries.over(until):
        return Proposal(NextStep.GO_ON, say("enough for today"))
    share = tries.tempo_share / course.tries.tempo_share
    bpm = out.round.tempo_bpm * share
    if share < 1:
        return Proposal(NextStep.SLOWER, say("a step back", bpm=f"{bpm:.0f}"), bpm)
    if share > 1:
        return Proposal(NextStep.FASTER, say("a step forward", bpm=f"{bpm:.0f}"), bpm)
    left = until.in_a_row - tries.in_a_row
    return Proposal(NextStep.AGAIN, say("so many to go", left=left), out.round.tempo_bpm)


def _in_climb(out: Outcome, course: ExerciseProgress) -> Proposal:
    assert course.climb is not None
    climb = climbed(course.climb, out.round, out.played)
    if climb.finished:
        return Proposal(NextStep.DONE, f"{climb.why} {climb.closing}")
    step = NextStep.AGAIN
    if climb.tempo_bpm != out.round.tempo_bpm:
        faster = climb.tempo_bpm > out.round.tempo_bpm
        step = NextStep.FASTER if faster else NextStep.SLOWER
    return Proposal(step, climb.why, climb.tempo_bpm)
