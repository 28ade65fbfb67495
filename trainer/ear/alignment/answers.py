"""Heard notes in the order of the expected ones: what answers which, and what was missed."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from trainer.ear.alignment.align import MISSED, Answer, align, played_at
from trainer.ear.alignment.covered_notes import covered_notes
from trainer.ear.alignment.doubtful_octaves import octaves_as_asked
from trainer.ear.alignment.expected_times import Due, due_notes, pace
from trainer.ear.alignment.repeated_notes import (
    as_struck,
    hidden_notes,
    repeat_groups,
    repeated_as_asked,
)
from trainer.ear.alignment.traced_notes import traced_notes
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import HOP_S, WINDOW_S, Track
from trainer.ear.analysis.pitch_track import PitchTrack, revised
from trainer.ear.heard import WRONG_SEMITONES, HeardNote, State
from trainer.ear.segments.blown_tones import are_struck, is_hardly_blown, is_piano
from trainer.ear.segments.note_segment import BLIP_S, JOINED_S, NoteSegment
from trainer.ear.segments.note_segments import note_segments
from trainer.ear.segments.own_harmonics import own_tone
from trainer.ear.segments.segment_measures import Evidence, MeasurementCache, evidence
from trainer.ear.segments.spurious_tones import (
    OCTAVE,
    SHADOW_S,
    apart_s,
    is_octave,
    is_two_ringing,
    may_be_octave_below,
)
from trainer.music.note import Note, Start
from trainer.music.ornaments import Realised
from trainer.music.tuning import Tuning

LEFT_OUT = 0.02
"""Cost of a grace note or a turn of a trill that isn't there: nobody counts them. Our own
estimate."""
FAINT_DB = 20.0
"""A sound so far below those that answer what was asked, and asked for by nothing, is none of the
player's: a tail, or somebody next door. From pianissimo to fortissimo recorded notes of one player
lie within some 20 dB; a soft note that was asked for answers it, however soft."""
OWN_SHARE = 0.5
"""Whoever plays so much of what was asked is the player, unless it is surely a piano ..."""
FEWEST_ASKED = 4
"""... and of fewer notes asked, long tones, too little is heard to tell."""
AROUND_S = 0.3
"""So much around what was missed or wrong is looked at again."""


@dataclass(frozen=True)
class ExpectedNotes:
    """The expected notes as arrays, each of shape (notes,)."""

    notes: tuple[Note, ...]
    midi: Track
    """Sounding pitch in the tuning asked for."""
    beats_s: Track
    """From the first beat, at the tempo asked for."""
    lengths_s: Track
    starts_known: bool
    """Whether the notes say how they should start."""
    missed: Track
    """What it costs to leave each out."""

    def start_of(self, answer: Answer) -> Start | None:
        """How the note should start that a sound answers; None where that isn't known."""
        if answer.index is None or not self.starts_known:
            return None
        return self.notes[answer.index].start


def expected_notes(
    sounded: Realised, tempo_bpm: float, tuning: Tuning, *, starts_known: bool
) -> ExpectedNotes:
    """The expected notes at a tempo and in a tuning."""
    notes = sounded.notes
    beat_s = 60.0 / tempo_bpm
    return ExpectedNotes(
        notes=notes,
        midi=np.array([tuning.placed_midi(note.pitch) for note in notes]),
        beats_s=np.array([float(note.beat) * beat_s for note in notes]),
        lengths_s=np.array([float(note.length) * beat_s for note in notes]),
        starts_known=starts_known,
        missed=np.where(np.array(sounded.may_be_left_out, dtype=bool), LEFT_OUT, MISSED),
    )


def answered(
    features: Features, expected_notes: ExpectedNotes, cache: MeasurementCache
) -> tuple[list[HeardNote], Evidence]:
    """Heard notes by onset, missed ones before the next that was played; and their evidence. Of
    what is somebody else's nothing is said."""
    found, answers, hidden = segments_and_answers(features, expected_notes)
    if _is_somebody_elses(features, found, answers, expected_notes):
        unheard = [HeardNote(n.index, n.pitch, State.NOT_JUDGED) for n in expected_notes.notes]
        return unheard, evidence(features, (), (), cache)
    starts = [expected_notes.start_of(answer) for answer in answers]
    measured = evidence(features, found, starts, cache)
    return _in_order(measured, answers, expected_notes, hidden), measured


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
    if asked >= FEWEST_ASKED and falls:
        return True
    return is_piano(features, found) or are_struck(features, found)


def segments_and_answers(
    features: Features, expected_notes: ExpectedNotes
) -> tuple[tuple[NoteSegment, ...], tuple[Answer, ...], frozenset[int]]:
    """The sounds of a take, which expected note each of them answers, and the places of notes that
    may be hidden: repeated ones whose strokes a room hides, soft ones that it covers, and those
    of which something sounds."""
    found = note_segments(features, features.course)
    answers = _align(found, expected_notes)
    again_course = _looked_again(features, found, answers, expected_notes)
    if again_course is not None:
        again = note_segments(features, again_course)
        found, answers = again, _aligned_anew(found, answers, again, expected_notes)
    settled = octaves_as_asked(features, found, answers)
    found, answers = settled, _aligned_anew(found, answers, settled, expected_notes)
    groups = repeat_groups(expected_notes.midi)
    lasts_s = expected_notes.lengths_s * pace(found, answers, expected_notes.beats_s)
    recut = repeated_as_asked(features, found, answers, groups, expected_notes.beats_s, lasts_s)
    answers = _aligned_anew(found, answers, recut.segments, expected_notes)
    answers = as_struck(answers, recut, groups)
    due = _due(recut.segments, answers, expected_notes)
    covered = covered_notes(features.frames, recut.segments, answers, due)
    traced = traced_notes(features, recut.segments, answers, due)
    hidden = hidden_notes(answers, groups, recut.hidden)
    return recut.segments, answers, hidden | covered | traced


def _aligned_anew(
    before: Sequence[NoteSegment],
    answers: tuple[Answer, ...],
    now: Sequence[NoteSegment],
    expected_notes: ExpectedNotes,
) -> tuple[Answer, ...]:
    """The answers of the sounds as they are now, or those from before where nothing changed."""
    return answers if now == before else _align(now, expected_notes)


def _due(
    found: Sequence[NoteSegment], answers: Sequence[Answer], expected_notes: ExpectedNotes
) -> list[Due]:
    return due_notes(
        found, answers, expected_notes.midi, expected_notes.beats_s, expected_notes.lengths_s
    )


def _align(found: Sequence[NoteSegment], expected_notes: ExpectedNotes) -> tuple[Answer, ...]:
    return align(
        found,
        expected_notes.midi,
        expected_notes.beats_s,
        expected_notes.lengths_s,
        expected_notes.missed,
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


def _in_order(
    measured: Evidence,
    answers: Sequence[Answer],
    expected_notes: ExpectedNotes,
    hidden: frozenset[int],
) -> list[HeardNote]:
    played = played_at(answers)
    ringing = {
        a.segment
        for a in answers
        if not a.right and may_ring_on(measured.features, measured.segments, a.segment)
    }
    unclear = {
        a.index
        for a in answers
        if a.segment in ringing or _is_unclear_octave(measured, expected_notes, a)
    }
    not_judged = unclear | hidden
    left = [
        HeardNote(
            note.index,
            note.pitch,
            State.NOT_JUDGED if note.index in not_judged else State.MISSED,
        )
        for note in expected_notes.notes
        if note.index not in played
    ]
    heard: list[HeardNote] = []
    blip = False
    unsaid = ringing | _octaves_first(measured.segments, answers)
    for answer in _near_enough(measured.segments, answers):
        if _is_squeezed_in(measured.segments, answer):
            blip = blip or _is_blip(measured, answer.segment, ringing)
            continue
        if answer.segment in unsaid or (answer.wrong and answer.index in unclear):
            continue
        index = None if answer.wrong else answer.index
        while index is not None and left and (left[0].index or 0) < index:
            heard.append(left.pop(0))
        heard.append(_heard(measured, expected_notes, answer, blip))
        blip = False
    return heard + left


def _near_enough(found: Sequence[NoteSegment], answers: Sequence[Answer]) -> list[Answer]:
    """The answers, without what nobody asked for and is too faint to be the player's."""
    asked_db = [found[a.segment].level_db for a in answers if a.right]
    faint_db = float(np.median(asked_db)) - FAINT_DB if asked_db else -np.inf
    return [
        answer for answer in answers if answer.right or found[answer.segment].level_db > faint_db
    ]


def _octaves_first(found: Sequence[NoteSegment], answers: Sequence[Answer]) -> set[int]:
    """The sounds nobody asked for that are the tube's octave under a note before its tone catches.
    How soft that is says little where the gain rides."""
    return {
        answer.segment
        for answer, after in pairwise(answers)
        if answer.index is None
        and after.right
        and _speaks_as(found[answer.segment], found[after.segment])
    }


def _speaks_as(segment: NoteSegment, after: NoteSegment) -> bool:
    """Whether a sound may be the octave below in which the note after it speaks first."""
    return (
        segment.length_s < SHADOW_S
        and segment.level_db < after.level_db
        and is_octave(segment, after)
        and apart_s(segment, after) < JOINED_S
    )


def _is_unclear_octave(measured: Evidence, expected_notes: ExpectedNotes, answer: Answer) -> bool:
    """Whether what sounds an octave above the note asked for may be that note after all."""
    if answer.index is None or not answer.wrong:
        return False
    segment = measured.segments[answer.segment]
    above = segment.midi - expected_notes.midi[answer.index]
    is_octave = abs(above - OCTAVE) < WRONG_SEMITONES
    return bool(is_octave and may_be_octave_below(measured.features, segment))


def _is_squeezed_in(found: Sequence[NoteSegment], answer: Answer) -> bool:
    """A short extra sound squeezed in between two others."""
    segment = found[answer.segment]
    inside = 0 < answer.segment < len(found) - 1
    if answer.index is not None or not inside or segment.length_s >= BLIP_S:
        return False
    before, after = found[answer.segment - 1], found[answer.segment + 1]
    return segment.from_s - before.to_s < JOINED_S and after.from_s - segment.to_s < JOINED_S


def _is_blip(measured: Evidence, place: int, ringing: Collection[int]) -> bool:
    """Whether what is squeezed in between two sounds is the player's, and no room's doing."""
    if place in ringing or may_be_both(measured.segments, place):
        return False
    before, segment, after = measured.segments[place - 1 : place + 2]
    return not is_two_ringing(measured.features, before, segment, after)


def may_be_both(found: Sequence[NoteSegment], place: int) -> bool:
    """Whether a sound between two others, and between their pitches, may be both of them seen in
    one window, as the fingers change."""
    lower, upper = sorted((found[place - 1].midi, found[place + 1].midi))
    between = lower < found[place].midi < upper
    return between and found[place].length_s < WINDOW_S + HOP_S


def may_ring_on(features: Features, found: Sequence[NoteSegment], place: int) -> bool:
    """Whether a sound between two others may be what rings of the one before them, in a room: it
    has its pitch, and doesn't rise out of nothing."""
    if place < 2 or not found[place].has_pitch_of(found[place - 2]):
        return False
    between = found[place - 1]
    if found[place].has_pitch_of(between):
        return False
    own = own_tone(features, between, found[place])
    return own is None or own.rise is None


def _heard(
    measured: Evidence, expected_notes: ExpectedNotes, answer: Answer, blip: bool
) -> HeardNote:
    """The heard note of an answer; what only seemed to sound before an onset that isn't sure is two
    notes ringing together."""
    heard = measured.heard(answer.segment)
    blip = blip and heard.onset_sure
    if answer.index is None or answer.wrong:
        return replace(heard, blip=blip, instead_of=answer.index)
    note = expected_notes.notes[answer.index]
    cents = None
    if heard.midi is not None and measured.knows_cents(answer.segment):
        cents = float(100 * (heard.midi - expected_notes.midi[answer.index]))
    return replace(
        heard, blip=blip, index=note.index, expected=note.pitch, state=State.PLAYED, cents=cents
    )
