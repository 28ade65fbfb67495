"""Pictures of the sounds that the ear's own front end finds in a line, with their strokes beside
them: what the network that hears a note begin again is fitted on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.bench.ear.fit.lines import Line, TrueStart
from tests.bench.ear.fit.seams import EDGE_S, LEVELS, SAME_SEMITONES, believed_notes, struck_in
from trainer.ear.analysis.features import FeatureStream
from trainer.ear.segments.again_network import STRIDE
from trainer.ear.segments.held_picture import held_picture
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.note_segments import unsplit
from trainer.ear.segments.reattacks import AROUND_STEPS, LEAD_STEPS, steps_of
from trainer.ear.segments.seam_patch import STEP_S
from trainer.music.note import Start
from trainer.music.tuning import Tuning

NEAR_S = 0.013
"""A place so near a stroke is called one."""
CLEAR_S = 0.045
"""So far before a stroke and after its speaking nothing is a stroke; nothing is said of what lies
between."""
ENDS_S = 0.032
"""Nor of what is so near the end of the sound, or its beginning where no note begins there."""


@dataclass(frozen=True)
class Pictured:
    """One sound of one take."""

    source: str
    place: str
    midi: float
    picture: NDArray[np.uint8]
    """Shape (ROWS, steps)."""
    truths: NDArray[np.int8]
    """Of the network's places: 1 a stroke, 0 none, -1 nothing is known; shape (steps / 2,)."""
    strokes: NDArray[np.int32]
    """The places of the strokes inside the sound."""
    begins: int
    """The place of what begins it; -1 where that isn't known."""
    lead: int
    """So many steps come before those that a sound is otherwise looked at with."""


def pictured(line: Line, samples: NDArray[np.float32], place: str, rate: int) -> Iterator[Pictured]:
    """Every sound found in a line as the microphone gave it; `rate` as it is believed to be."""
    stream = FeatureStream(rate, Tuning())
    stream.feed(samples)
    features = stream.finished()
    notes = believed_notes(line, rate)
    for segment in unsplit(features, features.course):
        first, end = steps_of(segment)
        lead = min(first, LEAD_STEPS - AROUND_STEPS) // STRIDE * STRIDE
        first -= lead
        times_s = STEP_S * np.arange(first, end, STRIDE)
        beginning = _beginning(segment, notes, float(times_s[0]))
        truths = _truths(times_s, segment, notes, beginning, line)
        if (truths < 0).all():
            continue
        hz = features.tuning.midi_hz(segment.midi)
        picture = held_picture(features.samples, rate, first, end, hz)

        def place_of(note: TrueStart, from_s: float = float(times_s[0])) -> int:
            return round((note.stroke_s - from_s) / STEP_S / STRIDE)

        yield Pictured(
            line.source,
            place,
            segment.midi,
            np.asarray(np.round((picture + 1.0) / 1.5 * LEVELS), np.uint8),
            truths,
            np.array([place_of(note) for note in struck_in(segment, notes)], np.int32),
            place_of(beginning[-1]) if beginning else -1,
            lead,
        )


def _beginning(segment: NoteSegment, notes: Sequence[TrueStart], from_s: float) -> list[TrueStart]:
    """The notes of a sound's pitch that start about where it was first seen or shortly before."""
    return [
        note
        for note in notes
        if abs(note.midi - segment.midi) < SAME_SEMITONES
        and from_s < note.stroke_s <= segment.from_s + EDGE_S
    ]


def _truths(
    times_s: NDArray[np.float64],
    segment: NoteSegment,
    notes: Sequence[TrueStart],
    beginning: Sequence[TrueStart],
    line: Line,
) -> NDArray[np.int8]:
    known = bool(notes) or line.every is Start.SLURRED or line.one_note
    truths = np.full(times_s.size, 0 if known else -1, np.int8)
    for note in notes:
        near = (times_s > note.stroke_s - CLEAR_S) & (times_s < note.speaks_s + CLEAR_S)
        is_own = abs(note.midi - segment.midi) < SAME_SEMITONES
        truths[near & (is_own | (times_s >= segment.from_s))] = -1
    for note in (*struck_in(segment, notes), *beginning):
        truths[np.abs(times_s - note.stroke_s) < NEAR_S] = 1
    if not beginning:
        truths[times_s < segment.from_s + ENDS_S] = -1
    truths[times_s > segment.to_s - ENDS_S] = -1
    return truths
