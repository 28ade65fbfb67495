"""Whether every exercise can be played, in every key it may come in, on the instrument named."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from trainer.music.instrument import Instrument, instrument_named
from trainer.music.key import Key
from trainer.music.pitch import Pitch
from trainer.routine.entries import WrittenEntry, exercises_only
from trainer.routine.exercise_notes import check_room, form_of, needed_mode
from trainer.routine.keys import in_mode, possible_keys
from trainer.routine.model import (
    Exercise,
    KeyedExercise,
    KeyLike,
    LongTones,
    Passage,
    Routine,
    Trills,
    Voicing,
)
from trainer.routine.problem import nearest
from trainer.routine.reader import Fault


def faults_of_fit(routine: Routine, written: Mapping[str, WrittenEntry]) -> list[Fault]:
    """Mistakes that show only when the notes are made."""
    faults: list[Fault] = []
    earlier: dict[str, tuple[Key, ...]] = {}
    instrument = instrument_named(routine.instrument)
    for exercise in exercises_only(routine.entries):
        place = written[exercise.id]
        faults += _off_the_instrument(exercise, place, instrument)
        if not isinstance(exercise, KeyedExercise) or exercise.key is None:
            if isinstance(exercise, Passage) and exercise.key is not None:
                earlier[exercise.id] = (exercise.key,)
            continue
        if isinstance(exercise.key, KeyLike) and exercise.key.exercise_id not in earlier:
            faults.append(_unknown_exercise(exercise.key, place, earlier))
            continue
        needed = needed_mode(form_of(exercise))
        keys = possible_keys(exercise.key, earlier, routine.week)
        keys = tuple(in_mode(key, needed) if needed else key for key in keys)
        earlier[exercise.id] = keys
        faults += _without_room(routine, exercise, keys, place)
    return faults


def _unknown_exercise(
    key: KeyLike, place: WrittenEntry, earlier: Mapping[str, tuple[Key, ...]]
) -> Fault:
    near = nearest(key.exercise_id, earlier)
    mend = (
        f"Did you mean '{near}'?"
        if near is not None
        else "Name an exercise that comes before this one and has a key."
    )
    return Fault(
        place.place("key"), f"No exercise above is called '{key.exercise_id}' and has a key.", mend
    )


def _off_the_instrument(
    exercise: Exercise, place: WrittenEntry, instrument: Instrument
) -> Iterator[Fault]:
    pitches: tuple[Pitch, ...] = ()
    if isinstance(exercise, Passage):
        pitches = tuple(note.pitch for note in exercise.notes)
    if isinstance(exercise, LongTones):
        pitches = exercise.pitches
    if isinstance(exercise, Voicing):
        pitches = exercise.roots
    if isinstance(exercise, Trills):
        pitches = tuple(pitch for pair in exercise.pairs for pitch in pair)
    for pitch in dict.fromkeys(pitches):
        if not instrument.lowest.midi <= pitch.midi <= instrument.furthest.midi:
            yield Fault(
                place.place("notes", "pairs", "roots"),
                f"{pitch} is not on the {instrument.name}.",
                f"Write notes from {instrument.lowest} to {instrument.furthest}.",
            )


def _without_room(
    routine: Routine, exercise: KeyedExercise, keys: tuple[Key, ...], place: WrittenEntry
) -> Iterator[Fault]:
    for key in keys:
        try:
            check_room(routine, exercise, key)
        except ValueError as error:
            reason = str(error).split(":")[0]
            yield Fault(
                place.place("range", "key"),
                f"In {key} this can't be played: {reason}.",
                "Ask for another range, or leave that key out.",
            )
            return
