"""Heard notes in the order of the expected ones: what answers which, and what was missed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trainer.ear.alignment.align import Answer, played_at
from trainer.ear.alignment.aligned_anew import aligned, aligned_anew
from trainer.ear.alignment.asked_notes import ExpectedNotes
from trainer.ear.alignment.doubtful_octaves import octaves_as_asked
from trainer.ear.alignment.expected_times import Due, due_from, due_notes, pace
from trainer.ear.alignment.heard_notes import in_order
from trainer.ear.alignment.repeated_notes import (
    Recut,
    as_struck,
    hidden_notes,
    repeat_groups,
    repeated_as_asked,
)
from trainer.ear.alignment.swallowed_notes import are_swallowed
from trainer.ear.alignment.traced_notes import traced_notes
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.pitch_track import PitchTrack, revised
from trainer.ear.heard import HeardNote, State
from trainer.ear.segments.blown_tones import is_hardly_blown, is_no_flute, is_piano
from trainer.ear.segments.mixtures import no_notes, without
from trainer.ear.segments.note_beginnings import with_their_beginnings
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.note_segments import (
    Parts,
    as_one,
    goes_on,
    is_half_step,
    note_segments,
)
from trainer.ear.segments.segment_measures import Evidence, MeasurementCache, evidence

OWN_SHARE = 0.5
"""Whoever plays so much of what was asked is the player, unless it is surely a piano ..."""
FEWEST_ASKED = 4
"""... and of fewer notes asked, long tones, too little is heard to tell."""
FEWEST_FOR_A_PACE = 5
"""Notes; of fewer one that is held or one that is missing makes the tempo."""
AS_ASKED = 0.1
"""Nearer to what was asked than this share, a tempo is kept to: no place of a note hangs on it.
Our own estimate."""
AROUND_S = 0.3
"""So much around what was missed or wrong is looked at again."""


def answered(
    features: Features, expected_notes: ExpectedNotes, cache: MeasurementCache
) -> tuple[list[HeardNote], Evidence]:
    """Heard notes by onset, missed ones before the next that was played; and their evidence. Of
    what is somebody else's nothing is said, nor of what the microphone swallows."""
    found, answers, hidden = segments_and_answers(features, expected_notes, cache.parts)
    due = _due(found, answers, expected_notes)
    swallowed = are_swallowed(features.envelope, due, played_at(answers))
    if swallowed or _is_somebody_elses(features, found, answers, expected_notes):
        unheard = [HeardNote(n.index, n.pitch, State.NOT_JUDGED) for n in expected_notes.notes]
        return unheard, evidence(features, (), (), cache)
    starts = [expected_notes.start_of(answer) for answer in answers]
    measured = evidence(features, found, starts, cache)
    return in_order(measured, answers, expected_notes, hidden), measured


def _is_somebody_elses(
    features: Features,
    found: Sequence[NoteSegment],
    answers: Sequence[Answer],
    expected_notes: ExpectedNotes,
) -> bool:
    """Whether a piano sounds, or what is neither blown nor what was asked: somebody next door.

    What was asked must fall as struck strings do as well: in a room a flute may seem stretched.
    """
    asked = len(expected_notes.notes)
    falls = is_hardly_blown(features, found)
    if sum(answer.right for answer in answers) >= OWN_SHARE * asked:
        return falls and is_piano(features, found)
    return (asked >= FEWEST_ASKED and falls) or is_no_flute(features, found, falls=falls)


def segments_and_answers(
    features: Features, expected_notes: ExpectedNotes, parts: Parts
) -> tuple[tuple[NoteSegment, ...], tuple[Answer, ...], frozenset[int]]:
    """The sounds of a take, which expected note each of them answers, and the places of notes that
    may have sounded unheard: repeated ones whose strokes a room hides, and those of which
    something sounds. parts: as for `note_segments`."""
    expected_notes, recut, answers = sounds_and_answers(features, expected_notes, parts)
    due = _due(recut.segments, answers, expected_notes)
    also_due = due_from(
        recut.segments,
        answers,
        expected_notes.midi,
        expected_notes.beats_s,
        expected_notes.lengths_s,
    )
    traced = traced_notes(features, recut.segments, answers, due, also_due)
    hidden = hidden_notes(answers, repeat_groups(expected_notes.midi), recut.hidden)
    return recut.segments, answers, hidden | traced


def sounds_and_answers(
    features: Features, expected_notes: ExpectedNotes, parts: Parts
) -> tuple[ExpectedNotes, Recut, tuple[Answer, ...]]:
    """The expected notes as fast as they are played, the sounds of a take or of a stretch of it,
    and which note each of them answers. parts: as for `note_segments`."""
    half_steps = expected_notes.half_steps
    found = note_segments(features, features.course, half_steps, parts)
    expected_notes, answers = at_own_pace(found, expected_notes)
    again_course = _looked_again(features, found, answers, expected_notes)
    if again_course is not None:
        again = note_segments(features, again_course, half_steps, parts)
        found, answers = again, aligned_anew(found, answers, again, expected_notes)
    unasked = {answer.segment for answer in answers if answer.index is None}
    whole = with_their_beginnings(features, found, unasked)
    found, answers = whole, aligned_anew(found, answers, whole, expected_notes)
    swaying = _swaying(features, found, answers, half_steps)
    found, answers = swaying, aligned_anew(found, answers, swaying, expected_notes)
    unasked = {answer.segment for answer in answers if answer.index is None}
    notes = without(features, found, no_notes(features, found, unasked))
    found, answers = notes, aligned_anew(found, answers, notes, expected_notes)
    settled = octaves_as_asked(features, found, answers)
    found, answers = settled, aligned_anew(found, answers, settled, expected_notes)
    groups = repeat_groups(expected_notes.midi)
    lasts_s = expected_notes.lengths_s * pace(found, answers, expected_notes.beats_s)
    recut = repeated_as_asked(features, found, answers, groups, expected_notes.beats_s, lasts_s)
    answers = aligned_anew(found, answers, recut.segments, expected_notes)
    return expected_notes, recut, as_struck(answers, recut, groups)


def at_own_pace(
    found: Sequence[NoteSegment], expected_notes: ExpectedNotes
) -> tuple[ExpectedNotes, tuple[Answer, ...]]:
    """The expected notes as fast as they are played, where that is another tempo than was asked
    for, and the answers to them."""
    answers = aligned(found, expected_notes)
    own = pace(found, answers, expected_notes.beats_s)
    if len(played_at(answers)) < FEWEST_FOR_A_PACE or abs(own - 1.0) < AS_ASKED:
        return expected_notes, answers
    at_own = expected_notes.at_pace(own)
    return at_own, aligned(found, at_own)


def _swaying(
    features: Features,
    found: Sequence[NoteSegment],
    answers: Sequence[Answer],
    half_steps: frozenset[int],
) -> tuple[NoteSegment, ...]:
    """The sounds, each that isn't what was asked one with the sound beside it where both may be one
    note that sways, but for a half-step that was asked for elsewhere."""
    unasked = {answer.segment for answer in answers if not answer.right}
    kept: list[NoteSegment] = []
    waits = False
    for place, segment in enumerate(found):
        before = found[place - 1] if place else None
        sways = (
            before is not None
            and (place in unasked or waits)
            and goes_on(before, segment, features.envelope)
            and is_half_step(features, before, segment, half_steps)
        )
        kept[len(kept) - sways :] = [as_one(kept[-1], segment) if sways else segment]
        waits = place in unasked and not sways
    return tuple(kept)


def _due(
    found: Sequence[NoteSegment], answers: Sequence[Answer], expected_notes: ExpectedNotes
) -> list[Due]:
    return due_notes(
        found, answers, expected_notes.midi, expected_notes.beats_s, expected_notes.lengths_s
    )


def _looked_again(
    features: Features,
    found: Sequence[NoteSegment],
    answers: Sequence[Answer],
    expected_notes: ExpectedNotes,
) -> PitchTrack | None:
    """The course with an ear for what is due, where notes were missed or wrong or others came
    between; None where nothing was, or nothing changes."""
    due = _due(found, answers, expected_notes)
    played = played_at(answers)
    trouble = [(found[a.segment].from_s, found[a.segment].to_s) for a in answers if not a.right]
    trouble += [(d.from_s, d.to_s) for index, d in enumerate(due) if index not in played]
    if not due or not trouble:
        return None
    frames = features.frames
    stretches = [
        (frames.at(from_s - AROUND_S), frames.at(to_s + AROUND_S) + 1)
        for from_s, to_s in sorted(trouble)
    ]
    places = [(frames.at(d.from_s), frames.at(d.to_s) + 1, d.midi) for d in due]
    course = revised(
        features.course, frames, features.scores, features.semitones, places, _merged(stretches)
    )
    return None if np.array_equal(course.midi, features.course.midi, equal_nan=True) else course


def _merged(stretches: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Stretches in order of their beginning, those that touch as one."""
    merged: list[tuple[int, int]] = []
    for first, end in stretches:
        if merged and first <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        else:
            merged.append((first, end))
    return merged
