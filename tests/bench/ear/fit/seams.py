"""What the ear's own front end finds in a line, with the truth beside it: what is fitted on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from tests.bench.ear.fit.lines import Line, TrueStart
from trainer.ear.analysis.features import Features, FeatureStream
from trainer.ear.segments.dips import dips
from trainer.ear.segments.note_segment import JOINED_S, NoteSegment
from trainer.ear.segments.note_segments import unsplit
from trainer.ear.segments.note_start import AGAIN_SEMITONES
from trainer.ear.segments.seam_patch import STEPS, seam_patch
from trainer.ear.segments.segment_measures import seam_s, side_of
from trainer.ear.segments.start_network import KINDS, dip_facts, seam_facts
from trainer.ear.segments.start_signs import signs_of
from trainer.ear.segments.transition import transition
from trainer.music.note import Start
from trainer.music.tuning import Tuning

WIDER = 16
"""Steps more than the network sees, so that fitting can shift what it shows."""
LEVELS = 255
NONE, NEW = 4, 5
"""Truths of dips, beside the places in KINDS of seams."""
UNKNOWN = -1
EARLY_S, LATE_S = 0.055, 0.065
CLEAR_S = 0.1
SAME_SEMITONES = 0.7


@dataclass(frozen=True)
class Seams:
    """The seams of one take in order, then its dips."""

    source: str
    place: str
    patches: NDArray[np.uint8]
    """Shape (seams, rows, steps)."""
    facts: NDArray[np.float32]
    truths: NDArray[np.int8]
    """Places in KINDS, NONE or NEW; UNKNOWN where nothing is known."""
    joined: NDArray[np.bool_]
    same: NDArray[np.bool_]
    """Whether the sounds before and after have one pitch."""


def seams_of(line: Line, samples: NDArray[np.float32], place: str, rate: int) -> Seams:
    """Everything found in a line as the microphone gave it; `rate` as it is believed to be."""
    stretch = line.rate / rate
    notes = [
        replace(
            n,
            midi=n.midi - 12 * np.log2(stretch),
            stroke_s=n.stroke_s * stretch,
            speaks_s=n.speaks_s * stretch,
        )
        for n in line.notes
    ]
    stream = FeatureStream(rate, Tuning())
    stream.feed(samples)
    features = stream.finished()
    patches, facts, truths = [], [], []
    found: list[NoteSegment] = []
    for segment in unsplit(features, features.course):
        cuts = []
        for dip in dips(features.envelope, segment.from_s, segment.to_s):
            truth = _dip_truth(dip.at_s, segment.midi, notes, line)
            cuts += [dip.at_s] if truth == NEW else []
            if truth != UNKNOWN:
                hz = features.tuning.midi_hz(segment.midi)
                patches.append(_patch(features, dip.at_s, hz, hz))
                lengths = dip.at_s - segment.from_s, segment.to_s - dip.at_s
                facts.append(dip_facts(dip, segment.midi, *lengths))
                truths.append(truth)
        edges = [segment.from_s, *cuts, segment.to_s]
        found += [replace(segment, from_s=first, to_s=end) for first, end in pairwise(edges)]
    count = len(truths)
    rows = [_seam(features, found, number, notes, line) for number in range(len(found))]
    return Seams(
        source=line.source,
        place=place,
        patches=np.array([r[0] for r in rows] + patches, np.uint8),
        facts=np.array([r[1] for r in rows] + facts, np.float32),
        truths=np.array([r[2] for r in rows] + truths, np.int8),
        joined=np.array([r[3] for r in rows] + [True] * count, bool),
        same=np.array([r[4] for r in rows] + [True] * count, bool),
    )


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
    for number, note in enumerate(notes):
        in_time = note.stroke_s - EARLY_S < segment.from_s < note.speaks_s + LATE_S
        if in_time and abs(note.midi - segment.midi) < SAME_SEMITONES:
            before = notes[number - 1] if number else None
            if last is None:
                return UNKNOWN if note.start is Start.SLURRED else _kind(note.start)
            follows = before is not None and abs(before.midi - last.midi) < SAME_SEMITONES
            return _kind(note.start) if follows else UNKNOWN
    return UNKNOWN


def _dip_truth(at_s: float, midi: float, notes: Sequence[TrueStart], line: Line) -> int:
    if not notes:
        return NONE if line.every is Start.SLURRED or line.one_note else UNKNOWN
    for number, note in enumerate(notes):
        again = number > 0 and abs(notes[number - 1].midi - note.midi) < SAME_SEMITONES
        here = abs(note.midi - midi) < SAME_SEMITONES
        if again and here and note.stroke_s - EARLY_S < at_s < note.speaks_s + 0.03:
            return NEW
    clear = all(at_s < note.stroke_s - CLEAR_S or at_s > note.speaks_s + CLEAR_S for note in notes)
    sounding = [note for note in notes if note.speaks_s < at_s]
    own = bool(sounding) and abs(sounding[-1].midi - midi) < SAME_SEMITONES
    return NONE if clear and own else UNKNOWN


def _kind(start: Start) -> int:
    return KINDS.index(Start.TONGUED if start is Start.BACK_TONGUED else start)
