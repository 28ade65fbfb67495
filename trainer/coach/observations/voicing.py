"""One sound from the bottom to the top: octaves, single notes that stand out, the top.

A room changes level and overtones of single pitches by several decibels, each time alike, so one
that is loud, soft or dull beside its neighbours may be the room's doing, and isn't told of. The
noise between the harmonics it leaves as it is.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from statistics import median

import numpy as np

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.finger_changes import register_of
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.colour import airier_db
from trainer.coach.observations.observation import (
    Observation,
    recent,
    sure_median,
)
from trainer.coach.observations.overtones import in_harmonics
from trainer.figures.enough import FIGURE_NOTES


def in_voicing(marks: Marks, earlier: Sequence[Marks]) -> Iterator[Observation]:
    """The octaves' size, harmonics against true notes, airy notes."""
    yield from _octaves(marks)
    rounds = recent(marks, earlier)
    yield from in_harmonics(rounds)
    yield from _airy(rounds)


def _octaves(marks: Marks) -> Iterator[Observation]:
    """The same name in the next octave against the lower one, in cents."""
    of_name: dict[str, dict[int, list[float]]] = defaultdict(lambda: defaultdict(list))
    for note in marks.heard:
        if note.cents is not None and note.wrong is None:
            of_name[note.written.name][note.written.octave].append(note.cents)
    sizes = [
        (name, octave, median(octaves[octave + 1]) - median(octaves[octave]))
        for name, octaves in of_name.items()
        for octave in sorted(octaves)
        if octave + 1 in octaves
    ]
    wide = [cents for _, _, cents in sizes]
    if len(wide) < thresholds.OCTAVES:
        return
    amount = sure_median(wide, thresholds.REGISTER_CENTS, thresholds.STEADIEST_CENTS)
    if amount is not None:
        yield Observation(
            Topic.OCTAVES,
            abs(amount) / thresholds.REGISTER_CENTS,
            tuple(
                f"{name}{octave}–{name}{octave + 1}: {cents:+.0f}" for name, octave, cents in sizes
            ),
            tuple(note.index for note in marks.heard),
            amount=amount,
            times=len(wide),
        )


def _airy(rounds: Sequence[Marks]) -> Iterator[Observation]:
    """A note airier than its neighbours each of the times it came."""
    off: dict[int, list[float]] = defaultdict(list)
    for note, db in (seen for marks in rounds for seen in _beside_neighbours(marks)):
        off[note.written.midi].append(db)
    for midi, each in off.items():
        here = [note for note in rounds[-1].heard if note.written.midi == midi]
        least = min(each)
        if here and len(each) >= thresholds.HABIT_TIMES and least >= thresholds.AIRIER_DB:
            yield Observation(
                Topic.VOICE,
                least / thresholds.AIRIER_DB,
                (
                    f"{here[0].written}: {least:+.0f} dB of hiss beside its neighbours, "
                    f"{len(each)} times",
                ),
                tuple(note.index for note in here),
                amount=least,
                frm=here[0].written,
                times=len(each),
            )


def _beside_neighbours(marks: Marks) -> Iterator[tuple[NoteMark, float]]:
    """How much airier each note was than the notes around it in pitch."""
    if any(note.harmonic for note in marks.notes):  # harmonics are airier by nature
        return
    for note in marks.heard:
        around = [
            other
            for other in marks.heard
            if 0 < abs(other.written.midi - note.written.midi) <= thresholds.NEIGHBOURHOOD
        ]
        airier = airier_db(note, around, thresholds.NEIGHBOURS)
        if airier is not None:
            yield note, airier


def pinched(marks: Marks, _: Sequence[Marks]) -> Iterator[Observation]:
    """The high notes thin beside the player's own middle ones.

    A flute's higher notes have fewer overtones (Tufts flute research; SHARC: from D5 up the second
    harmonic lies 10 to 40 dB down), so a top richer in overtones than the middle is squeezed; not
    one that is nearly pure, as a piccolo's whole compass is. A room colours a pitch the same way
    whenever it comes, so each counts once. Hiss goes with it, but a room and a vibrato spoil its
    measure: it is told, and decides nothing.
    """
    notes, middle = _toned(marks, "high"), _toned(marks, "middle")
    balances_db = _of_each_pitch(notes, _balance_db)
    if len(balances_db) < thresholds.PINCHED_PITCHES or len(middle) < FIGURE_NOTES:
        return
    high_db = median(balances_db)
    if high_db < thresholds.PURE_BALANCE_DB:
        return
    thinner = high_db - median(_of_each_pitch(middle, _balance_db))
    airier = median(_of_each_pitch(notes, _noise_db)) - median(_of_each_pitch(middle, _noise_db))
    error = float(np.std(balances_db, ddof=1) / np.sqrt(len(balances_db)))
    over = thinner - thresholds.PINCHED_BALANCE_DB
    if over >= error:
        yield Observation(
            Topic.TONE,
            1 + over / 6,
            (
                f"overtones of {len(notes)} high notes against the middle ones: {thinner:+.0f} dB",
                f"hiss: {airier:+.0f} dB",
            ),
            tuple(note.index for note in notes),
            amount=thinner,
            frm=min((note.written for note in notes), key=lambda pitch: pitch.midi),
            times=len(notes),
            detail="pinched" if airier >= thresholds.PINCHED_NOISE_DB else "thin",
        )


def _toned(marks: Marks, register: str) -> list[NoteMark]:
    return [
        note
        for note in marks.heard
        if note.tone is not None and note.clean and register_of(note.written) == register
    ]


def _of_each_pitch(notes: Sequence[NoteMark], quantity: Callable[[NoteMark], float]) -> list[float]:
    """What each written pitch usually has of it."""
    of_pitch: dict[int, list[float]] = defaultdict(list)
    for note in notes:
        of_pitch[note.written.midi].append(quantity(note))
    return [median(each) for each in of_pitch.values()]


def _balance_db(note: NoteMark) -> float:
    assert note.tone is not None
    return note.tone.harmonic_balance_db


def _noise_db(note: NoteMark) -> float:
    assert note.tone is not None
    return note.tone.noise_share_db
