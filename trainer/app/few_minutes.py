"""A day with five minutes: two long tones, the trouble spot that needs it most, one scale.

All of it is chosen from the journal. It is planned as a routine of its own, so that it is played,
judged, ended and written down like any other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from trainer.coach.breakdown import RETURNING, returning
from trainer.coach.history import History, OldKnot
from trainer.journal.findings import FindingKind, WeekFinding
from trainer.journal.log import RoundLog, SessionLog
from trainer.journal.trouble import knot_name
from trainer.music.instrument import instrument_named
from trainer.music.key import Key
from trainer.music.pitch import Pitch
from trainer.routine.load import read_routine
from trainer.routine.model import Routine
from trainer.routine.plan import PlannedExercise, plan
from trainer.routine.round import Round, RoundKind

TITLE = "A few minutes"
SPOT = "trouble spot"
"""The exercise a spot is practised under that was never taken out before."""
LONG_TONE = Pitch.parse("B4")
"""Where nothing else is known (common practice, no source)."""
SPOT_BPM = 60.0
"""The tempo of a spot of which none is known (common practice, no source)."""
SLOWEST_BPM, FASTEST_BPM = 30.0, 120.0
"""The spot's tempo stays between these: it is a day for calm practice. Our own choice."""


@dataclass(frozen=True)
class Spot:
    """The trouble spot that needs it most."""

    exercise_id: str
    """The exercise it was taken out of, so that its story goes on."""
    pitches: tuple[Pitch, ...]
    """Written, in the order they are played."""
    begin_bpm: float

    @property
    def name(self) -> str:
        """'C5–D5'."""
        return "–".join(map(str, self.pitches))


def spot_due(
    findings: Sequence[WeekFinding], sessions: Sequence[SessionLog], history: History
) -> Spot | None:
    """The week's heaviest open spot; else an old one that is due to come back; else None.

    What was smooth when it was last practised, and isn't due, is left in peace.
    """
    for found in findings:
        if found.kind is FindingKind.SPOT:
            return _spot(found, sessions)
    due = [knot for knot in history.knots if knot.due(history.today)]
    if not due:
        return None
    oldest = min(due, key=lambda knot: (knot.smooth_days, knot.last, knot.exercise_id))
    return Spot(oldest.exercise_id, oldest.pitches, _last_bpm(oldest, sessions))


def _spot(found: WeekFinding, sessions: Sequence[SessionLog]) -> Spot:
    rounds = [
        round_
        for log in sessions
        for round_ in log.rounds
        if round_.kind is RoundKind.KNOT and knot_name(round_) == found.what
    ]
    pitches = tuple(map(Pitch.parse, found.what.split("–")))
    exercise_id = rounds[-1].exercise_id if rounds else SPOT
    return Spot(exercise_id, pitches, _held(found.bpm or SPOT_BPM))


def _last_bpm(knot: OldKnot, sessions: Sequence[SessionLog]) -> float:
    """The tempo at which it was met first on its last day."""
    names = tuple(map(str, knot.pitches))
    rounds: list[RoundLog] = [
        round_ for log in sessions for round_ in log.rounds if round_.knot == names
    ]
    return _held(rounds[-1].tempo_bpm * RETURNING[0] if rounds else SPOT_BPM)


def _held(bpm: float) -> float:
    return min(FASTEST_BPM, max(SLOWEST_BPM, bpm))


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


def planned_few(few: Routine, spot: Spot | None, day: date) -> tuple[PlannedExercise, ...]:
    """The short day's exercises in order; without a spot the long tones and the scale alone."""
    planned = plan(few, day, seed=0)
    return tuple(
        exercise if exercise.id != SPOT else _of_spot(exercise, spot)
        for exercise in planned
        if exercise.id != SPOT or spot is not None
    )


def _of_spot(exercise: PlannedExercise, spot: Spot | None) -> PlannedExercise:
    assert spot is not None
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
