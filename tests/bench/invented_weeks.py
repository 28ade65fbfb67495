"""Two weeks of an invented student's practice, as the session itself judges and writes it down.

Takes are made note by note, with a human spread (tests/coach/conftest.py says from which sources)
and habits that begin and end on known days; the rounds go through the coach, the review of each
round and the round log, so that every sentence is the one a student would have read.

What is true is what was planted. A habit's size is drawn in units of what a teacher in the room
would notice at once (the amounts in `make_take`, our own estimate, in milliseconds, cents, decibels
and chances), it stays away on some days and is larger on bad ones. How large a trouble was in a
week is the mean of what was planted over the week's days of practice, those without it too: it
knows nothing of what was judged, counted or said, nor of any threshold.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum

import numpy as np

from trainer.coach.advice import Advice, Felt, Proposal
from trainer.coach.judge import judge
from trainer.coach.next_step import to_mind
from trainer.ear.heard import HeardNote, State, Take
from trainer.journal.log import AskedExercise, RoundLog, SessionLog
from trainer.music.note import Start
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.round import Round, RoundKind
from trainer.session.closing import RoundClosed, closing_words, round_closed
from trainer.session.exercise_progress import enter
from trainer.session.history_from_journal import history_of
from trainer.session.round_review import RoundReviewer, with_felt

ENDING = date(2026, 11, 22)
DAYS = 14
WEEK = range(DAYS - 7, DAYS)
PRACTISED = 0.6
"""Share of the days."""
SIZES = 0.9, 2.2
"""From what is just noticed to what nobody could miss, drawn evenly by ratio."""
CONSTANT = 0.7, 1.0
"""Share of the days on which a habit is there while it lasts."""
GOOD_AND_BAD = 0.15
"""Spread of a day's factor on every size."""
LOST = 0.0, 0.05
"""Share of notes that the ear doesn't judge; each student's room has its own."""
ROUTINE = """
title: Over the boathouse
exercises:
  - scale: tide
    key: D
    range: two octaves
    tempo: 72
    articulations: [slurred, double]
    aims: {cents: 15, evenness: 22 ms, clean: 93 %}
  - speed climb: ladder
    key: D
    range: two octaves
    from: 66
    to: 108
    within: 1 minute
"""
STEPS = (("B4", "C#5"), ("C#5", "D5"), ("G5", "A5"), ("B5", "C#6"), ("E5", "F#5"))
NOTES = ("A4", "F#5", "C#5", "G5")


class HabitKind(StrEnum):
    """What may be planted."""

    LATE = "late step"
    BLIP = "false note at a step"
    MISS = "lost note at a step"
    NOTE = "one note out of tune"
    HIGH = "high notes sharp"
    WEAK_K = "weak K"
    UNEVEN = "uneven"
    RUSHING = "rushing"


@dataclass(frozen=True)
class Habit:
    """One habit on some of the fourteen days."""

    kind: HabitKind
    where: tuple[str, ...]
    """Two notes, one, or none."""
    size: float
    """1 is what a teacher in the room would notice at once."""
    first: int
    last: int
    """Days, counted from 0, from which to which it is there ..."""
    absent: frozenset[int] = frozenset()
    """... but for these."""

    def on(self, day: int) -> bool:
        """Whether it is there on a day."""
        return self.first <= day <= self.last and day not in self.absent


@dataclass(frozen=True)
class InventedStudent:
    """Somebody whose truth is known."""

    seed: int
    habits: tuple[Habit, ...]
    days: tuple[int, ...]
    """On which they practise."""
    factors: tuple[float, ...]
    """Of each of the fourteen days: below 1 a good one."""
    lost_share: float
    """Of the notes, which the ear doesn't judge."""

    def amount(self, habit: Habit) -> float:
        """How large a trouble it was over the last week's days of practice."""
        days = [day for day in self.days if day in WEEK]
        return sum(habit.size * self.factors[day] * habit.on(day) for day in days) / len(days)

    @property
    def still(self) -> tuple[Habit, ...]:
        """What is there at the end, the largest first."""
        there = [habit for habit in self.habits if habit.last >= DAYS - 1]
        return tuple(sorted(there, key=lambda habit: -self.amount(habit)))

    @property
    def healed(self) -> tuple[Habit, ...]:
        """What was there and has gone for three practice days."""
        return tuple(habit for habit in self.habits if habit.last < DAYS - 1)


@dataclass(frozen=True)
class SaidOfRound:
    """All that was said of one round."""

    advice: Advice
    proposal: Proposal
    round: Round
    log: RoundLog
    disputed: bool = False


@dataclass(frozen=True)
class SaidAtTheEnd:
    """A session's rounds as they were left, and what was said of them when it was over."""

    rounds: tuple[RoundClosed, ...]
    words: tuple[str, ...]
    climb: tuple[str, float]
    """What the climb said last, and the tempo that it says has held (0: none)."""
    began_bpm: float
    """The climb's first tempo; 0 where it was not climbed."""


@dataclass
class Practised:
    """The sessions written down, and what was said in them."""

    sessions: list[SessionLog] = field(default_factory=list)
    said: list[SaidOfRound] = field(default_factory=list)
    ends: list[SaidAtTheEnd] = field(default_factory=list)
    """One a session."""


def invented_student(seed: int) -> InventedStudent:
    """Habits that come and go, by the seed; one student in four has none that stays."""
    dice = np.random.default_rng([seed, 17])
    days = tuple(day for day in range(DAYS) if dice.random() < PRACTISED or day == DAYS - 1)
    kinds = list(dice.permutation(list(HabitKind)))
    steps, notes = list(dice.permutation(STEPS)), list(dice.permutation(NOTES))
    staying = 0 if seed % 4 == 0 else int(dice.integers(1, 4))
    going = int(dice.integers(0, 3))
    gone_before = days[-4] if len(days) > 4 else 0
    habits = []
    for number in range(staying + going):
        kind = HabitKind(kinds[number])
        where: tuple[str, ...] = ()
        if kind in (HabitKind.LATE, HabitKind.BLIP, HabitKind.MISS):
            where = tuple(map(str, steps.pop()))
        elif kind is HabitKind.NOTE:
            where = (str(notes.pop()),)
        size = float(np.exp(dice.uniform(*np.log(SIZES))))
        stays = number < staying
        first, last = (8, DAYS - 1) if stays else (4, gone_before)
        constant = dice.uniform(*CONSTANT)
        absent = {day for day in range(DAYS - 1) if dice.random() > constant}
        habits.append(Habit(kind, where, size, int(dice.integers(0, first)), last,
                            frozenset(absent)))  # fmt: skip
    factors = tuple(map(float, np.exp(dice.normal(0, GOOD_AND_BAD, DAYS))))
    return InventedStudent(seed, tuple(habits), days, factors, float(dice.uniform(*LOST)))


def practise(student: InventedStudent) -> Practised:
    """The fourteen days, session by session."""
    done = Practised()
    for day in student.days:
        _one_morning(student, day, done)
    return done


def _one_morning(student: InventedStudent, number: int, done: Practised) -> None:
    day = ENDING - timedelta(days=DAYS - 1 - number)
    dice = np.random.default_rng([student.seed, number])
    routine, problems = read_routine(ROUTINE, "tide.yaml")
    assert routine is not None, problems
    planned = plan(routine, day, 0)
    history = history_of(done.sessions, day)
    reviewer = RoundReviewer(history)
    at = datetime.combine(day, time(8), UTC)
    rounds: list[RoundLog] = []
    closed: list[RoundClosed] = []
    climb_said = ""
    habits = [
        replace(habit, size=habit.size * student.factors[number])
        for habit in student.habits
        if habit.on(number)
    ]
    for exercise in planned:
        course = enter(exercise, history)
        while (round_ := course.due) is not None:
            take = make_take(round_, habits, student.seed, dice, lost_share=student.lost_share)
            heard = take, judge(round_, take)
            out = reviewer.outcome(course, round_, heard, at, round_.seconds, None)
            done.said.append(SaidOfRound(out.advice, out.proposal, round_, out.log))
            if dice.random() < 0.03 and (other := reviewer.disputed(out, course)) is not None:
                out = other
                done.said.append(SaidOfRound(out.advice, out.proposal, round_, out.log, True))
            elif dice.random() < 0.1:
                felt = Felt.EASY if dice.random() < 0.5 else Felt.HARD
                out = with_felt(out, felt, course)
                done.said.append(SaidOfRound(out.advice, out.proposal, round_, out.log))
            rounds.append(out.log)
            mind = to_mind(out.marks, out.advice)
            closed.append(round_closed(out.round, out.advice.topic, mind, out.last_time))
            if round_.kind is RoundKind.CLIMB:
                climb_said = out.proposal.why
            at += timedelta(seconds=round_.seconds + 12)
            course = reviewer.onward(out, course)
    climbed = [each for each in rounds if each.kind is RoundKind.CLIMB]
    held = re.search(r"(\d+) held today", climb_said)
    climb = climb_said, float(held[1]) if held else 0.0
    began = climbed[0].tempo_bpm if climbed else 0.0
    done.ends.append(SaidAtTheEnd(tuple(closed), closing_words(closed), climb, began))
    seconds = (at - datetime.combine(day, time(8), UTC)).total_seconds()
    done.sessions.append(
        SessionLog(
            started=datetime.combine(day, time(8), UTC),
            routine_title=routine.title,
            routine_file="tide.yaml",
            student="Invented",
            asked=tuple(AskedExercise(each.id, each.title, each.minutes) for each in planned),
            rounds=tuple(rounds),
            elapsed_s=seconds,
            session_id=f"{student.seed} {number}",
        )
    )


def make_take(
    round_: Round,
    habits: list[Habit],
    seed: int,
    dice: np.random.Generator,
    *,
    lost_share: float = 0.01,
    starts_judged: bool = True,
) -> Take:
    """One round as heard, human first; `lost_share` of its notes are not judged."""
    own = np.random.default_rng([seed, 5])
    spread_ms = own.uniform(4, 9)
    here = {habit.kind: habit for habit in habits}
    if HabitKind.UNEVEN in here:
        spread_ms = 32 * here[HabitKind.UNEVEN].size
    gains = 0.09 * here[HabitKind.RUSHING].size if HabitKind.RUSHING in here else 0.0
    notes: list[HeardNote] = []
    before = ""
    for note in round_.notes:
        played_s = float(note.beat) * round_.beat_s
        played_s -= gains * played_s**2 / (2 * max(round_.seconds, 1e-6))
        onset_s = 1 + played_s + dice.normal(0, spread_ms) / 1000
        cents, level_db = dice.normal(0, 4), -24 + dice.normal(0, 0.8)
        name, blip, state = str(note.pitch), dice.random() < 0.002, State.PLAYED
        if dice.random() < 0.003:
            state = State.MISSED
        for habit in habits:
            at_step = len(habit.where) == 2 and {before, name} == set(habit.where)
            match habit.kind:
                case HabitKind.LATE if at_step and dice.random() < 0.9:
                    onset_s += 0.052 * habit.size
                case HabitKind.BLIP if at_step and dice.random() < 1 - 0.4**habit.size:
                    blip = True
                case HabitKind.MISS if at_step and dice.random() < 1 - 0.5**habit.size:
                    state = State.MISSED
                case HabitKind.NOTE if name in habit.where:
                    cents += 26 * habit.size
                case HabitKind.HIGH if note.pitch.midi >= 84:
                    cents += 22 * habit.size
                case HabitKind.WEAK_K if note.start is Start.BACK_TONGUED:
                    level_db -= 5.5 * habit.size
                case _:
                    pass
        before = name
        if dice.random() < lost_share:
            state = State.NOT_JUDGED
        if state is not State.PLAYED:
            notes.append(HeardNote(note.index, note.pitch, state))
            continue
        start = Start.TONGUED if note.start is Start.BACK_TONGUED else note.start
        notes.append(
            HeardNote(
                note.index,
                note.pitch,
                state,
                midi=note.pitch.midi + cents / 100,
                onset_s=onset_s,
                end_s=onset_s + 0.9 * float(note.length) * round_.beat_s,
                cents=cents,
                level_db=level_db,
                start=start if starts_judged else None,
                attack_s=0.03,
                blip=blip,
            )
        )
    return Take(48000, 440.0, 1.0, tuple(notes))


def habit_words(student: InventedStudent, habits: tuple[Habit, ...]) -> str:
    """'late step C#5–D5 (1.2); uneven (0.9)'."""
    return "; ".join(
        f"{each.kind} {'–'.join(each.where)} ({student.amount(each):.2f})".replace("  ", " ")
        for each in habits
    )
