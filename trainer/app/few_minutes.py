"""A day with five minutes: two long tones, the trouble spot that needs it most, one scale.

All of it is chosen from the journal. It is planned as a routine of its own, so that it is played,
judged, ended and written down like any other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from trainer.app.shelf import SPOT, SPOT_BPM
from trainer.coach.breakdown import RETURNING, returning
from trainer.coach.history import OldKnot
from trainer.journal.findings import FindingKind, WeekFinding
from trainer.music.instrument import instrument_named
from trainer.music.key import Key
from trainer.music.pitch import Pitch
from trainer.routine.load import read_routine
from trainer.routine.model import Routine
from trainer.routine.plan import PlannedExercise, plan
from trainer.routine.round import Round
from trainer.session.view import ShelvedSpot

TITLE = "A few minutes"
LONG_TONE = Pitch.parse("B4")
"""Where nothing else is known (common practice, no source)."""


def few_minutes(routine: Routine, key: Key | None, findings: Sequence[WeekFinding]) -> Routine:
    """The routine of a short day, on the flute and at the tuning of the usual one."""
    tones = ", ".join(map(str, _long_tones(routine, findings)))
    text = f"""
title: {TITLE}
instrument: {routine.instrument}
tuning: A4 = {routine.a4_hz:g}
lowest note: {routine.lowest}
highest note: {routine.highest}
exercises:
  - long tones: two long tones
    notes: [{tones}]
    beats each: 8
    words: One breath each. Listen to the end of the note.
  - passage: {SPOT}
    articulations: slurred
    tempo: {SPOT_BPM:g}
    notes: sixteenth (G4 A4 G4 A4) quarter G4
  - scale: one scale
    key: {_written(key) if key is not None else "F"}
    tempo: 60
    articulations: [slurred]
"""
    small, problems = read_routine(text, TITLE)
    assert small is not None, problems
    return small


def _written(key: Key) -> str:
    """As a routine writes it: 'E flat', 'F sharp minor'."""
    return str(key).removesuffix(" major")


def _long_tones(routine: Routine, findings: Sequence[WeekFinding]) -> tuple[Pitch, Pitch]:
    """The note that is most out of tune, and its octave; the calm middle where none is."""
    off = [found.what for found in findings if found.kind is FindingKind.NOTE]
    first = Pitch.parse(off[0]) if off else LONG_TONE
    lowest = instrument_named(routine.instrument).lowest.midi
    below = replace(first, octave=first.octave - 1)
    return first, below if below.midi >= lowest else replace(first, octave=first.octave + 1)


def planned_few(few: Routine, spot: ShelvedSpot | None, day: date) -> tuple[PlannedExercise, ...]:
    """The short day's exercises in order; without a spot the long tones and the scale alone."""
    planned = plan(few, day, seed=0)
    if spot is None:
        return tuple(exercise for exercise in planned if exercise.id != SPOT)
    return tuple(
        _of_spot(exercise, spot) if exercise.id == SPOT else exercise for exercise in planned
    )


def planned_spot(few: Routine, spot: ShelvedSpot, day: date) -> tuple[PlannedExercise, ...]:
    """The spot alone."""
    return tuple(each for each in planned_few(few, spot, day) if each.id == spot.exercise_id)


def _of_spot(exercise: PlannedExercise, spot: ShelvedSpot) -> PlannedExercise:
    carrier = exercise.rounds[0]
    notes = tuple(
        replace(carrier.notes[0], index=place, pitch=pitch, beat=place * carrier.notes[0].length)
        for place, pitch in enumerate(spot.pitches)
    )
    around = replace(
        carrier,
        exercise_id=spot.exercise_id,
        notes=notes,
        tempo_bpm=spot.begin_bpm / RETURNING[0],
    )
    rounds: tuple[Round, ...] = returning(
        (OldKnot(spot.exercise_id, spot.pitches, date.min, 0),), around
    )
    return replace(
        exercise,
        id=spot.exercise_id,
        title=spot.name,
        detail=f"slurred, from {rounds[0].tempo_bpm:.0f}",
        rounds=tuple(replace(one, number=number) for number, one in enumerate(rounds, start=1)),
    )
