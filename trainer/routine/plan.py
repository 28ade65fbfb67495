"""A routine on one day: which keys, which articulations, every round with its notes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from random import Random
from types import MappingProxyType

from trainer.music.key import Key
from trainer.routine.exercise_notes import (
    form_of,
    needed_mode,
)
from trainer.routine.keys import in_mode, key_on_day, progressed_key
from trainer.routine.model import (
    FASTEST_BPM,
    ClimbAsked,
    DayAsked,
    Entry,
    Exercise,
    KeyedExercise,
    LongTones,
    Passage,
    Reading,
    Rest,
    Routine,
)
from trainer.routine.practice_until import Until
from trainer.routine.progress import Attempt, Faster, tempo_reached
from trainer.routine.round import Round
from trainer.routine.rounds import rounds_of
from trainer.routine.titles import detail_of, duration_in_words, title_of
from trainer.routine.week_day import FREE_DAY, entries_on

PAUSE_AFTER_ROUND_S = 10.0
"""Time to hear the one sentence and lift the flute again; counted after every round."""
BEFORE_IT_STANDS_S = 2.0
"""What a note takes out of time before it stands; our own estimate."""
READING_WORDS_PER_MINUTE = 150
"""A calm reading speed; common practice, no source."""


@dataclass(frozen=True)
class PlannedExercise:
    """One entry of a routine as it stands on one day."""

    id: str
    title: str
    """'E flat major, full range', 'Rest'."""
    detail: str
    """'slurred, legato tongue, single at 60', 'slurred, from 60 towards 120'."""
    words: str
    """The teacher's words; for a reading, the text to read."""
    rounds: tuple[Round, ...]
    """Empty for a rest or words to read; for a climb, its first round."""
    climb: ClimbAsked | None
    """Not None: the coach makes the further rounds with `at_tempo`."""
    rest_s: float
    """Rest after the last round; for a rest entry, the rest itself."""
    minutes: float
    """Estimate: rounds with their count-in and a pause of 10 s after each, and the rest."""
    until: Until | None = None
    """Not None: each round is played again until then."""
    spots: int = 0
    """So many of the last trouble spots come first, due or not."""
    mixes: bool = False
    """The teacher lets the rounds come in mixed order once they were all secure."""


def plan(
    routine: Routine,
    day: date,
    seed: int,
    past_keys: Mapping[str, Sequence[str]] = MappingProxyType({}),
    attempts: Mapping[str, Sequence[Attempt]] = MappingProxyType({}),
) -> tuple[PlannedExercise, ...]:
    """The routine's exercises for one day, in order.

    `past_keys`: exercise id → key names ('E flat major') of earlier days, oldest first, not of
    today. `attempts`: exercise id → how it went on earlier days, oldest first, for the rules of
    progress. All that is drawn follows from the seed, the day and the exercise's name (and the
    past): the same morning is the same plan.
    """
    asked = routine.week[day.weekday()]
    played = {entry.id for entry in entries_on(routine.entries, asked)}
    keys: dict[str, Key] = {}
    planned: list[PlannedExercise] = list(_words_of_day(asked))
    for written in routine.entries:
        tried = attempts.get(written.id, ())
        entry = _progressed(written, tried)
        key = _key(entry, day, seed, past_keys, keys, routine.week)
        if key is not None:
            keys[entry.id] = key
        if entry.id in played:
            planned.append(_planned(routine, entry, key, Random(f"{seed} {day} {entry.id}")))
    return tuple(planned)


def _words_of_day(asked: DayAsked) -> Iterator[PlannedExercise]:
    """The week's words for the day; on a free day there is nothing else."""
    words = asked.words or (FREE_DAY if asked.free else "")
    if words:
        title = "A free day" if asked.free else "Words for today"
        yield PlannedExercise("words of the day", title, "", words, (), None, 0.0, 0.25)


def _progressed(entry: Entry, attempts: Sequence[Attempt]) -> Entry:
    """The exercise as far as its rule of progress has brought it."""
    if not isinstance(entry, Exercise) or entry.progress is None:
        return entry
    rule = entry.progress
    if isinstance(rule.step, Faster):
        reached = tempo_reached(entry.tempo_bpm, rule.step, rule.times, attempts, FASTEST_BPM)
        return replace(entry, tempo_bpm=reached)
    if isinstance(entry, KeyedExercise) and entry.key is not None:
        return replace(entry, key=progressed_key(entry.key, rule, attempts))
    return entry


def at_tempo(round_: Round, tempo_bpm: float, number: int) -> Round:
    """The same round at another tempo, as round `number` of its exercise."""
    return replace(round_, tempo_bpm=tempo_bpm, number=number)


def _key(
    entry: Entry,
    day: date,
    seed: int,
    past_keys: Mapping[str, Sequence[str]],
    earlier: Mapping[str, Key],
    week: Sequence[DayAsked],
) -> Key | None:
    """The key of an entry on the day, in the mode its form needs."""
    if isinstance(entry, Passage):
        return entry.key
    if not isinstance(entry, KeyedExercise) or entry.key is None:
        return None
    past = past_keys.get(entry.id)
    key = key_on_day(entry.key, entry.id, day, seed, past, earlier, week)
    mode = needed_mode(form_of(entry))
    return in_mode(key, mode) if mode is not None else key


def _planned(routine: Routine, entry: Entry, key: Key | None, random: Random) -> PlannedExercise:
    match entry:
        case Rest(seconds=seconds):
            return PlannedExercise(
                entry.id, "Rest", duration_in_words(seconds), entry.words, (), None, seconds,
                seconds / 60,
            )  # fmt: skip
        case Reading(text=text):
            minutes = max(0.25, len(text.split()) / READING_WORDS_PER_MINUTE)
            return PlannedExercise(entry.id, "Words to read", "", text, (), None, 0.0, minutes)
        case Exercise():
            return _planned_exercise(routine, _held_today(entry, random), key, random)
    raise TypeError(f"no plan for {entry}")


def _planned_exercise(
    routine: Routine, exercise: Exercise, key: Key | None, random: Random
) -> PlannedExercise:
    rounds = rounds_of(routine, exercise, key, random)
    return PlannedExercise(
        id=exercise.id,
        title=title_of(exercise, key),
        detail=detail_of(exercise, tuple(round_.articulation for round_ in rounds)),
        words=exercise.words,
        rounds=rounds,
        climb=exercise.climb,
        rest_s=exercise.rest_after_s,
        minutes=_minutes(exercise, rounds),
        until=exercise.until,
        spots=exercise.spots,
        mixes=exercise.mixes,
    )


def _held_today(exercise: Exercise, random: Random) -> Exercise:
    """Long tones with the day's length, to the next whole beat."""
    if not isinstance(exercise, LongTones) or exercise.held is None:
        return exercise
    held = exercise.held
    length = random.uniform(held.least, held.most)
    beats = length * exercise.tempo_bpm / 60 if held.seconds else length
    return replace(exercise, beats_each=Fraction(max(1, round(beats))))


def _lasts_s(round_: Round) -> float:
    """With its count-in; out of time each note takes a while before it stands."""
    if round_.manner.stands_s is not None:
        return len(round_.notes) * (BEFORE_IT_STANDS_S + round_.manner.stands_s)
    return round_.lead_in_beats * round_.beat_s + round_.seconds


def _minutes(exercise: Exercise, rounds: Sequence[Round]) -> float:
    if exercise.climb is not None:
        return exercise.climb.minutes + exercise.rest_after_s / 60
    sounding_s = sum(_lasts_s(round_) + PAUSE_AFTER_ROUND_S for round_ in rounds)
    if exercise.until is not None:
        sounding_s *= exercise.until.at_most
    return (sounding_s + exercise.rest_after_s) / 60
