"""Pictures of the sounds that the ear's own front end finds in a line, with their strokes beside
them: what the network that hears a note begin again is fitted on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.bench.ear.fit.lines import Line, TrueStart
from tests.bench.ear.fit.seams import LEVELS, believed_notes, struck_in
from trainer.ear.analysis.features import FeatureStream
from trainer.ear.segments.again_network import STRIDE
from trainer.ear.segments.held_picture import held_picture
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.note_segments import unsplit
from trainer.ear.segments.reattacks import steps_of
from trainer.ear.segments.seam_patch import STEP_S
from trainer.music.note import Start
from trainer.music.tuning import Tuning

NEAR_S = 0.013
"""A place so near a stroke is called one."""
CLEAR_S = 0.045
"""So far before a stroke and after its speaking nothing is a stroke; nothing is said of what lies
between."""
ENDS_S = 0.032
"""Nor of what is so near an end of the sound."""


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


def pictured(line: Line, samples: NDArray[np.float32], place: str, rate: int) -> Iterator[Pictured]:
    """Every sound found in a line as the microphone gave it; `rate` as it is believed to be."""
    stream = FeatureStream(rate, Tuning())
    stream.feed(samples)
    features = stream.finished()
    notes = believed_notes(line, rate)
    for segment in unsplit(features, features.course):
        first, end = steps_of(segment)
        times_s = STEP_S * np.arange(first, end, STRIDE)
        truths = _truths(times_s, segment, notes, line)
        if (truths < 0).all():
            continue
        hz = features.tuning.midi_hz(segment.midi)
        picture = held_picture(features.samples, rate, first, end, hz)
        strokes = [
            round((note.stroke_s - times_s[0]) / STEP_S / STRIDE)
            for note in struck_in(segment, notes)
        ]
        yield Pictured(
            line.source,
            place,
            segment.midi,
            np.asarray(np.round((picture + 1.0) / 1.5 * LEVELS), np.uint8),
            truths,
            np.array(strokes, np.int32),
        )


def _truths(
    times_s: NDArray[np.float64], segment: NoteSegment, notes: Sequence[TrueStart], line: Line
) -> NDArray[np.int8]:
    known = bool(notes) or line.every is Start.SLURRED or line.one_note
    truths = np.full(times_s.size, 0 if known else -1, np.int8)
    for note in notes:
        near = (times_s > note.stroke_s - CLEAR_S) & (times_s < note.speaks_s + CLEAR_S)
        truths[near] = -1
    for note in struck_in(segment, notes):
        truths[np.abs(times_s - note.stroke_s) < NEAR_S] = 1
    truths[(times_s < segment.from_s + ENDS_S) | (times_s > segment.to_s - ENDS_S)] = -1
    return truths
