"""What the ear's own front end finds in a line, with the truth beside it: what is fitted on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from tests.bench.ear.fit.lines import Line, TrueStart
from trainer.ear.analysis.features import Features, FeatureStream
from trainer.ear.segments.note_segment import JOINED_S, NoteSegment
from trainer.ear.segments.note_segments import unsplit
from trainer.ear.segments.note_start import AGAIN_SEMITONES
from trainer.ear.segments.reattacks import EDGE_S
from trainer.ear.segments.seam_patch import STEPS, seam_patch
from trainer.ear.segments.segment_measures import seam_s, side_of
from trainer.ear.segments.start_network import KINDS, seam_facts
from trainer.ear.segments.start_signs import signs_of
from trainer.ear.segments.transition import transition
from trainer.music.note import Start
from trainer.music.tuning import Tuning

WIDER = 16
"""Steps more than the network sees, so that fitting can shift what it shows."""
LEVELS = 255
UNKNOWN = -1
EARLY_S, LATE_S = 0.055, 0.2
"""A sound that is first seen so long before or after its note is that note's, the later one only
until the next note speaks: in a hall slurs are seen late."""
LOST = 1
"""So many notes before it may have been missed."""
SAME_SEMITONES = 0.7


@dataclass(frozen=True)
class Seams:
    """The seams of one take in order."""

    source: str
    place: str
    patches: NDArray[np.uint8]
    """Shape (seams, rows, steps)."""
    facts: NDArray[np.float32]
    truths: NDArray[np.int8]
    """Places in KINDS; UNKNOWN where nothing is known."""
    joined: NDArray[np.bool_]
    same: NDArray[np.bool_]
    """Whether the sounds before and after have one pitch."""


def seams_of(line: Line, samples: NDArray[np.float32], place: str, rate: int) -> Seams:
    """Everything found in a line as the microphone gave it; `rate` as it is believed to be."""
    notes = believed_notes(line, rate)
    stream = FeatureStream(rate, Tuning())
    stream.feed(samples)
    features = stream.finished()
    found: list[NoteSegment] = []
    for segment in unsplit(features, features.course):
        cuts = [note.stroke_s for note in struck_in(segment, notes)]
        edges = [segment.from_s, *cuts, segment.to_s]
        found += [replace(segment, from_s=first, to_s=end) for first, end in pairwise(edges)]
    rows = [_seam(features, found, number, notes, line) for number in range(len(found))]
    return Seams(
        source=line.source,
        place=place,
        patches=np.array([r[0] for r in rows], np.uint8),
        facts=np.array([r[1] for r in rows], np.float32),
        truths=np.array([r[2] for r in rows], np.int8),
        joined=np.array([r[3] for r in rows], bool),
        same=np.array([r[4] for r in rows], bool),
    )


def believed_notes(line: Line, rate: int) -> list[TrueStart]:
    """The notes of a line whose samples are believed to come at another rate."""
    stretch = line.rate / rate
    return [
        replace(
            n,
            midi=n.midi - 12 * np.log2(stretch),
            stroke_s=n.stroke_s * stretch,
            speaks_s=n.speaks_s * stretch,
        )
        for n in line.notes
    ]


def _seam(
    features: Features,
    found: Sequence[NoteSegment],
    number: int,
    notes: Sequence[TrueStart],
    line: Line,
) -> tuple[NDArray[np.uint8], NDArray[np.float32], int, bool, bool]:
    segment = found[number]
    last = found[number - 1] if number else segment
    joined = number > 0 and segment.from_s - last.to_s < JOINED_S
    before = last if joined else None
    seam = transition(
        features.samples,
        features.sample_rate_hz,
        features.envelope,
        seam_s(before, segment),
        None if before is None else side_of(before, features.tuning),
        side_of(segment, features.tuning),
    )
    same = joined and seam.leap_semitones < AGAIN_SEMITONES
    hz = features.tuning.midi_hz(segment.midi)
    before_hz = hz if before is None else features.tuning.midi_hz(before.midi)
    facts = seam_facts(
        signs_of(seam, joined), joined, last.midi, segment.midi, last.length_s, segment.length_s
    )
    truth = _seam_truth(last if joined else None, segment, same, notes, line)
    return _patch(features, seam_s(before, segment), before_hz, hz), facts, truth, joined, same


def _patch(features: Features, at_s: float, before_hz: float, hz: float) -> NDArray[np.uint8]:
    rate, steps = features.sample_rate_hz, STEPS + WIDER
    patch = seam_patch(features.samples, rate, at_s, before_hz, hz, steps)
    return np.asarray(np.round((patch + 1.0) / 1.5 * LEVELS), np.uint8)


def _seam_truth(
    last: NoteSegment | None,
    segment: NoteSegment,
    same: bool,
    notes: Sequence[TrueStart],
    line: Line,
) -> int:
    if not notes:
        return UNKNOWN if line.every is None or same or last is None else _kind(line.every)
    number = _note_of(segment, notes)
    if number is None:
        return UNKNOWN
    note = notes[number]
    if last is None:
        return UNKNOWN if note.start is Start.SLURRED else _kind(note.start)
    before = notes[max(0, number - 1 - LOST) : number]
    follows = any(abs(one.midi - last.midi) < SAME_SEMITONES for one in before)
    return _kind(note.start) if follows else UNKNOWN


def _note_of(segment: NoteSegment, notes: Sequence[TrueStart]) -> int | None:
    """The last note of a sound's pitch that began before it, while that sounds."""
    for number in reversed(range(len(notes))):
        note = notes[number]
        begun = note.stroke_s - EARLY_S < segment.from_s
        if begun and abs(note.midi - segment.midi) < SAME_SEMITONES:
            after = notes[number + 1 : number + 2]
            until_s = min([note.speaks_s + LATE_S, *(one.speaks_s for one in after)])
            return number if segment.from_s < until_s else None
    return None


def struck_in(segment: NoteSegment, notes: Sequence[TrueStart]) -> list[TrueStart]:
    """The notes struck well inside a sound on its own pitch."""
    return [
        note
        for note in notes
        if abs(note.midi - segment.midi) < SAME_SEMITONES
        and note.start is not Start.SLURRED
        and segment.from_s + EDGE_S < note.stroke_s < segment.to_s - EDGE_S
    ]


def _kind(start: Start) -> int:
    return KINDS.index(Start.TONGUED if start is Start.BACK_TONGUED else start)
