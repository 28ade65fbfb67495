"""What loads, but a teacher may not have meant."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

from trainer.music.instrument import instrument_named
from trainer.music.note import Articulation
from trainer.routine.entries import Written, exercises_only
from trainer.routine.model import (
    Arpeggio,
    ArticulationChoice,
    DifferentEveryRound,
    Exercise,
    FromTo,
    InOrder,
    KeyedExercise,
    Routine,
    Scale,
    Voicing,
)
from trainer.routine.plan import plan
from trainer.routine.reader import Fault

STRICTEST_CENTS = 2.0
"""Finer than a tuner in a room can be trusted; common practice, no source."""
LONGEST_WITHOUT_REST_MINUTES = 40.0
REST_THAT_COUNTS_S = 60.0
SLOWEST_DOUBLE_PER_S = 2.0
FASTEST_DOUBLE_PER_S = 12.0
FASTEST_SINGLE_PER_S = 10.0
"""Notes a second. Upper ends: 9–10 single, 12 double (contemporarytuba.com, 'Tonguing'; another
instrument, for none was found for the flute). The lower end is common practice, no source."""
_DOUBLES = {Articulation.DOUBLE, Articulation.REVERSE_DOUBLE}
_ANY_DAY = date(2026, 1, 5)


def doubts(routine: Routine, written: Mapping[str, Written]) -> list[Fault]:
    """Things to look at again, at their places in the file."""
    found: list[Fault] = []
    for exercise in exercises_only(routine.entries):
        place = written[exercise.id]
        found += _strict_aims(exercise, place)
        found += _tongue_speed(exercise, place)
        found += _range_beyond(routine, exercise, place)
    return [*found, *_no_rest(routine, written)]


def _strict_aims(exercise: Exercise, place: Written) -> Iterator[Fault]:
    cents = exercise.aims.cents
    if cents is not None and cents < STRICTEST_CENTS:
        yield Fault(
            place.place("aims"),
            f"An aim of {cents:g} cents is stricter than a microphone in a room can judge.",
            f"Ask for {STRICTEST_CENTS:g} cents or more.",
        )


def _tongue_speed(exercise: Exercise, place: Written) -> Iterator[Fault]:
    per_beat, asked = _notes_per_beat(exercise), _asked(exercise.articulations)
    if per_beat is None:
        return
    slowest = per_beat * exercise.tempo_bpm / 60
    fastest = per_beat * (exercise.climb.to_bpm if exercise.climb else exercise.tempo_bpm) / 60
    at = place.place("articulations", "tempo")
    if asked & _DOUBLES:
        if slowest < SLOWEST_DOUBLE_PER_S and exercise.climb is None:
            what = f"Double tonguing is asked for at {slowest:.2g} notes a second, which is slow."
            yield Fault(at, what, "Raise the tempo, or ask for single.")
        if fastest > FASTEST_DOUBLE_PER_S:
            what = f"Double tonguing is asked for at {fastest:.3g} notes a second."
            yield Fault(at, what, "Few tongues go past 12: lower the tempo, or ask for slurred.")
    if Articulation.SINGLE in asked and fastest > FASTEST_SINGLE_PER_S:
        what = f"Single tonguing is asked for at {fastest:.3g} notes a second."
        yield Fault(at, what, "Few tongues go past 10: lower the tempo, or ask for double.")


def _asked(choice: ArticulationChoice) -> set[Articulation]:
    match choice:
        case InOrder(articulations) | DifferentEveryRound(articulations):
            return set(articulations)
    return set()


def _notes_per_beat(exercise: Exercise) -> float | None:
    match exercise:
        case Scale(per_beat=per_beat) | Arpeggio(per_beat=per_beat):
            return float(per_beat)
        case Voicing(beats_each=beats):
            return 1 / float(beats)
    return None


def _range_beyond(routine: Routine, exercise: Exercise, place: Written) -> Iterator[Fault]:
    if not isinstance(exercise, KeyedExercise) or not isinstance(exercise.range, FromTo):
        return
    instrument = instrument_named(routine.instrument)
    for pitch in (exercise.range.low, exercise.range.high):
        if not routine.lowest.midi <= pitch.midi <= routine.highest.midi:
            yield Fault(
                place.place("range"),
                f"{pitch} is outside {routine.lowest} to {routine.highest} "
                f"on the {instrument.name}; the exercise stops at the last note inside.",
                "Change the range, or name an instrument that has the note.",
            )


def _no_rest(routine: Routine, written: Mapping[str, Written]) -> Iterator[Fault]:
    """Ten minutes of rest an hour, or five after 25, is the usual advice (G. Klickstein, The
    Musician's Way, p. 75); we speak up after forty minutes without any.
    """
    since_rest = 0.0
    for exercise in plan(routine, _ANY_DAY, seed=0):
        since_rest += exercise.minutes
        if since_rest > LONGEST_WITHOUT_REST_MINUTES:
            yield Fault(
                written[exercise.id].node,
                f"By the end of this there have been {since_rest:.0f} minutes without a rest.",
                "Put '- rest: 5 minutes' before it, or 'rest after' on an exercise above.",
            )
            return
        if exercise.rest_s >= REST_THAT_COUNTS_S:
            since_rest = 0.0
