"""A routine on one day: which keys, which articulations, every round with its notes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import cycle, islice
from random import Random
from types import MappingProxyType

from trainer.music.instrument import instrument_named
from trainer.music.key import Key
from trainer.music.note import Articulation, Note, Start, articulated
from trainer.music.tuning import Tuning
from trainer.routine.keys import in_mode, key_on_day
from trainer.routine.model import (
    ArticulationChoice,
    AsWritten,
    ClimbAsked,
    DifferentEveryRound,
    Entry,
    Exercise,
    InOrder,
    KeyedExercise,
    LongTones,
    Passage,
    Reading,
    Rest,
    Routine,
    Voicing,
)
from trainer.routine.notes import drone_of, form_of, needed_mode, notes_of, signature_of
from trainer.routine.round import PartnerPart, Round, RoundKind
from trainer.routine.titles import detail_of, duration_in_words, title_of

PAUSE_AFTER_ROUND_S = 10.0
"""Time to hear the one sentence and lift the flute again; counted after every round."""
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


def plan(
    routine: Routine,
    day: date,
    seed: int,
    past_keys: Mapping[str, Sequence[str]] = MappingProxyType({}),
) -> tuple[PlannedExercise, ...]:
    """The routine's exercises for one day, in order.

    `past_keys`: exercise id → key names ('E flat major') of earlier days, oldest first, not of
    today. All that is drawn follows from the seed, the day and the exercise's name (and the past
    keys): the same morning is the same plan.
    """
    keys: dict[str, Key] = {}
    planned: list[PlannedExercise] = []
    for entry in routine.entries:
        key = _key(entry, day, seed, past_keys, keys)
        if key is not None:
            keys[entry.id] = key
        planned.append(_planned(routine, entry, key, Random(f"{seed} {day} {entry.id}")))
    return tuple(planned)


def at_tempo(round_: Round, tempo_bpm: float, number: int) -> Round:
    """The same round at another tempo, as round `number` of its exercise."""
    return replace(round_, tempo_bpm=tempo_bpm, number=number)


def with_articulation(round_: Round, articulation: Articulation, number: int) -> Round:
    """The same round with another articulation, as round `number` of its exercise."""
    notes = articulated(round_.notes, articulation)
    return replace(round_, articulation=articulation, notes=notes, number=number)


def _key(
    entry: Entry,
    day: date,
    seed: int,
    past_keys: Mapping[str, Sequence[str]],
    earlier: Mapping[str, Key],
) -> Key | None:
    """The key of an entry on the day, in the mode its form needs."""
    if isinstance(entry, Passage):
        return entry.key
    if not isinstance(entry, KeyedExercise) or entry.key is None:
        return None
    key = key_on_day(entry.key, entry.id, day, seed, past_keys.get(entry.id), earlier)
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
            return _planned_exercise(routine, entry, key, random)
    raise TypeError(f"no plan for {entry}")


def _planned_exercise(
    routine: Routine, exercise: Exercise, key: Key | None, random: Random
) -> PlannedExercise:
    rounds = _rounds(routine, exercise, key, random)
    return PlannedExercise(
        id=exercise.id,
        title=rounds[0].title,
        detail=detail_of(exercise, tuple(round_.articulation for round_ in rounds)),
        words=exercise.words,
        rounds=rounds,
        climb=exercise.climb,
        rest_s=exercise.rest_after_s,
        minutes=_minutes(exercise, rounds),
    )


def _minutes(exercise: Exercise, rounds: Sequence[Round]) -> float:
    if exercise.climb is not None:
        return exercise.climb.minutes + exercise.rest_after_s / 60
    sounding_s = sum(
        round_.count_in_beats * round_.beat_s + round_.seconds + PAUSE_AFTER_ROUND_S
        for round_ in rounds
    )
    return (sounding_s + exercise.rest_after_s) / 60


def _rounds(
    routine: Routine, exercise: Exercise, key: Key | None, random: Random
) -> tuple[Round, ...]:
    notes = notes_of(routine, exercise, key)
    first = _first_round(routine, exercise, key, notes)
    if isinstance(exercise.articulations, AsWritten):
        return tuple(replace(first, number=1 + turn) for turn in range(exercise.rounds or 1))
    chosen = _articulations(exercise.articulations, exercise.rounds, random)
    return tuple(
        with_articulation(first, articulation, number)
        for number, articulation in enumerate(chosen, start=1)
    )


def _first_round(
    routine: Routine, exercise: Exercise, key: Key | None, notes: tuple[Note, ...]
) -> Round:
    partner = exercise.partner
    drone = drone_of(key, partner) if partner is not None and key is not None else None
    pure_above = instrument_named(routine.instrument).sounding(drone) if drone else None
    return Round(
        exercise_id=exercise.id,
        title=title_of(exercise, key),
        kind=_kind(exercise),
        number=1,
        key=signature_of(exercise, key),
        articulation=_written_articulation(notes),
        tempo_bpm=exercise.tempo_bpm,
        notes=notes,
        beats_per_bar=exercise.beats_per_bar if isinstance(exercise, Passage) else 4,
        aims=exercise.aims,
        partner=partner.part if partner is not None else None,
        words=exercise.words,
        count_in_beats=exercise.beats_per_bar if isinstance(exercise, Passage) else 4,
        tuning=Tuning(routine.a4_hz, pure_above if exercise.pure else None),
        drone=drone if partner is not None and partner.part is PartnerPart.DRONE else None,
    )


def _kind(exercise: Exercise) -> RoundKind:
    if exercise.climb is not None:
        return RoundKind.CLIMB
    match exercise:
        case Passage():
            return RoundKind.PASSAGE
        case LongTones():
            return RoundKind.LONG_TONES
        case Voicing():
            return RoundKind.VOICING
    return RoundKind.TECHNIQUE


def _written_articulation(notes: Sequence[Note]) -> Articulation:
    """What a passage as written is called: slurred where more notes are slurred than tongued."""
    slurred = sum(note.start is Start.SLURRED for note in notes)
    return Articulation.SLURRED if 2 * slurred > len(notes) else Articulation.SINGLE


def _articulations(
    choice: ArticulationChoice, rounds: int | None, random: Random
) -> tuple[Articulation, ...]:
    match choice:
        case InOrder(articulations):
            return tuple(islice(cycle(articulations), rounds or len(articulations)))
        case DifferentEveryRound(pool):
            return _drawn(pool, rounds or len(pool), random)
    return ()


def _drawn(pool: tuple[Articulation, ...], rounds: int, random: Random) -> tuple[Articulation, ...]:
    """As many as there are rounds; none again until all have come, and none twice running."""
    drawn: list[Articulation] = []
    while len(drawn) < rounds:
        turn = random.sample(pool, len(pool))
        if drawn and turn[0] == drawn[-1]:
            turn.reverse()
        drawn += turn
    return tuple(drawn[:rounds])
