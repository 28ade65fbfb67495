"""Where in a long recording a line of notes is played, told nothing of when or how fast.

A walk through the sounds that may begin and end anywhere, but goes through the whole line: each
sound is the note due, another one in its place, or an extra; notes may be missed. The cheapest
walks are found by dynamic programming (Sellers 1980, J. Algorithms 1:359: a pattern within a longer
text). Notes of one pitch in a row count as one, since a slur hides them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from trainer.ear.analysis.frames import Track
from trainer.ear.heard import WRONG_SEMITONES
from trainer.ear.segments.note_segment import BLIP_S, OCTAVE, NoteSegment
from trainer.music.note import Note

FEWEST_NOTES = 8
"""A shorter line is part of too much else. Our own estimate."""
MOST_WRONG = 0.2
"""Of the notes, heard freely: soft or quick ones are taken for their octave, or not heard; whether
it is the line is settled by hearing it once more, told the notes."""
LONGEST_REST_S = 3.0
"""Who stops for longer has begun anew."""
REPEATED_WITHIN_S = 0.5
"""A note of the same pitch so soon after it may be the same one, cut in two."""
REST_S = 1.0
"""Longer than a breath."""
JOINED_S = 0.15
"""Who begins a line has stopped for so long before it, and stops so long after it."""
BLIP_SHARE = 0.45
"""What is shorter than this share of the notes around it is too short to be meant."""
AROUND = 9
"""Of so many sounds the middle length says how long notes are here."""
EXTRA, EXTRA_BLIP, OCTAVE_SLIP, REST, JOINED = 1.0, 0.2, 0.5, 1.0, 2.0
"""Costs in wrong or missed notes: a sound too much, one too short to be meant, the octave in a
note's place, which the ear takes for it now and then, a rest within the line, and a sound joined to
its beginning or its end."""


@dataclass(frozen=True)
class Line:
    """A line of notes as it sounds, notes of one pitch in a row taken together."""

    midi: Track
    beats: Track
    """From the first note's, shape (notes,) as `midi`."""


@dataclass(frozen=True)
class LinePlace:
    """A line played from one sound to another."""

    first: int
    """Place among the sounds."""
    last: int
    wrong: float
    """Wrong, missed and extra notes against the line's notes."""


def line_of(notes: Sequence[Note]) -> Line:
    """The line of notes at sounding pitch."""
    runs = [next(run) for _, run in groupby(notes, key=lambda note: note.pitch.midi)]
    return Line(
        np.array([note.pitch.midi for note in runs], float),
        np.array([float(note.beat - notes[0].beat) for note in runs]),
    )


def runs_of(sounds: Iterable[NoteSegment]) -> list[NoteSegment]:
    """The sounds, those of one pitch in a row taken together."""
    runs: list[NoteSegment] = []
    for sound in sounds:
        before = runs[-1] if runs else None
        if (
            before is not None
            and sound.has_pitch_of(before)
            and sound.from_s - before.to_s < REPEATED_WITHIN_S
        ):
            runs[-1] = replace(before, to_s=sound.to_s)
        else:
            runs.append(sound)
    return runs


def places_of(runs: Sequence[NoteSegment], line: Line) -> list[LinePlace]:
    """Where the line is played from beginning to end, in order, none over another."""
    found = [place for place in _walks(runs, line.midi) if place.wrong <= MOST_WRONG]
    kept: list[LinePlace] = []
    for place in sorted(found, key=lambda one: (one.wrong, one.last - one.first)):
        if all(place.first > other.last or place.last < other.first for other in kept):
            kept.append(place)
    return sorted(kept, key=lambda one: one.first)


def _walks(runs: Sequence[NoteSegment], midi: Track) -> Iterable[LinePlace]:
    """The cheapest walk that ends with each sound."""
    count = midi.size
    if count < FEWEST_NOTES or not runs:
        return
    rests_s = [
        LONGEST_REST_S,
        *(after.from_s - before.to_s for before, after in pairwise(runs)),
        LONGEST_REST_S,
    ]
    extras = left_out_costs(runs)
    steps = np.arange(count + 1.0)
    cost, begins = np.full(count + 1, np.inf), np.zeros(count + 1, np.int64)
    for number, run in enumerate(runs):
        rested_s = rests_s[number]
        cost = cost + (np.inf if rested_s >= LONGEST_REST_S else REST * (rested_s > REST_S))
        cost[0], begins[0] = _joined(rested_s), number
        cost, begins = _with_missed(cost, begins, steps)
        answered = cost[:-1] + _wrong(run.midi, midi)
        left = cost[1:] + extras[number]
        cost[1:] = np.minimum(answered, left)
        begins[1:] = np.where(answered <= left, begins[:-1], begins[1:])
        cost, begins = _with_missed(cost, begins, steps)
        yield LinePlace(
            int(begins[-1]), number, float(cost[-1] + _joined(rests_s[number + 1])) / count
        )


def left_out_costs(runs: Sequence[NoteSegment]) -> Track:
    """What it costs to leave each sound out, shape (runs,)."""
    lengths_s = np.array([run.length_s for run in runs])
    slight = lengths_s < np.maximum(BLIP_S, BLIP_SHARE * ndimage.median_filter(lengths_s, AROUND))
    for number, (before, after) in enumerate(pairwise(runs)):
        leap = abs(after.midi - before.midi)
        if abs(leap - OCTAVE) <= WRONG_SEMITONES and after.from_s - before.to_s < JOINED_S:
            slight[number : number + 2] = True
    return np.where(slight, EXTRA_BLIP, EXTRA)


def _joined(rest_s: float) -> float:
    return JOINED if rest_s < JOINED_S else 0.0


def _wrong(heard_midi: float, midi: Track) -> Track:
    """What it costs to take the sound for each note of the line."""
    away = np.abs(heard_midi - midi)
    octave = np.abs(away - OCTAVE) <= WRONG_SEMITONES
    return np.where(away <= WRONG_SEMITONES, 0.0, np.where(octave, OCTAVE_SLIP, 1.0))


def _with_missed(
    cost: Track, begins: NDArray[np.int64], steps: Track
) -> tuple[Track, NDArray[np.int64]]:
    """Each place reached as it is, or from an earlier one with the notes between missed."""
    lowest = np.minimum.accumulate(cost - steps)
    came_from = np.maximum.accumulate(np.where(cost - steps <= lowest, np.arange(cost.size), 0))
    return lowest + steps, begins[came_from]
