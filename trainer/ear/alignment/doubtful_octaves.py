"""Sounds beside what was asked that may as well be its octave.

A room takes a note's fundamental away for a moment, or the tube sounds an octave lower under a note
that goes on. Where the harmonics don't tell, what was asked orders the two: nothing extra is
claimed, and the note goes on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trainer.ear.alignment.align import Answer
from trainer.ear.analysis.features import Features
from trainer.ear.segments.note_or_octave import (
    is_octave_above,
    may_be_octave_above,
    may_be_octave_below,
)
from trainer.ear.segments.note_segment import OCTAVE, NoteSegment
from trainer.ear.segments.note_segments import as_one, goes_on


def octaves_as_asked(
    features: Features, found: Sequence[NoteSegment], answers: Sequence[Answer]
) -> tuple[NoteSegment, ...]:
    """The sounds of a take; a doubtful octave beside a sound that was asked for is part of it, and
    what nobody asked for is the octave above where it is nothing else."""
    asked = {a.segment for a in answers if a.right}
    doubtful = {
        place
        for place, (before, segment) in enumerate(zip((None, *found), found, strict=False))
        if place not in asked and is_octave_above(features, segment, before)
    }
    settled = [
        replace(segment, midi=segment.midi + OCTAVE) if place in doubtful else segment
        for place, segment in enumerate(found)
    ]
    onward = range(len(found))
    for place in (*onward, *reversed(onward)):
        near = [
            p for p in (place - 1, place + 1) if p in asked and found[place].is_joined_to(found[p])
        ]
        if place in asked or not near:
            continue
        beside = [settled[p] for p in near]
        own = _octave_of(features, settled[place], beside)
        if own is not None:
            settled[place] = replace(found[place], midi=own.midi)
            doubtful.add(place)
        if own is not None or any(settled[place].has_pitch_of(other) for other in beside):
            asked.add(place)
    whole: list[NoteSegment] = []
    for place, segment in enumerate(settled):
        was_doubtful = bool({place - 1, place} & doubtful)
        if whole and was_doubtful and goes_on(whole[-1], segment, features.envelope):
            whole[-1] = as_one(whole[-1], segment)
        else:
            whole.append(segment)
    return tuple(whole)


def _octave_of(
    features: Features, segment: NoteSegment, near: Sequence[NoteSegment]
) -> NoteSegment | None:
    """The sound that another may as well be an octave away from; None where it is sure."""
    for other in near:
        if other.is_octave_below(segment) and may_be_octave_below(features, segment):
            return other
        if segment.is_octave_below(other) and may_be_octave_above(features, segment):
            return other
    return None
