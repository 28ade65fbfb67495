"""What is said of a take's sounds, once it is known which answer what was asked.

Nothing is said of what may be the room's doing: it is left out, and a note that it may hide is not
judged.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from trainer.ear.alignment.align import Answer, played_at
from trainer.ear.alignment.asked_notes import ExpectedNotes
from trainer.ear.alignment.blips import is_both_neighbours, is_squeezed_in
from trainer.ear.heard import WRONG_SEMITONES, HeardNote, State
from trainer.ear.segments.blown_tones import lies_low
from trainer.ear.segments.mixtures import is_mixture, may_ring_on
from trainer.ear.segments.note_or_octave import may_be_octave_below, may_only_seem_lower
from trainer.ear.segments.note_segment import OCTAVE, NoteSegment
from trainer.ear.segments.segment_measures import Evidence
from trainer.ear.segments.spurious_tones import SHADOW_S

FAINT_DB = 20.0
"""A sound so far below those that answer what was asked, and asked for by nothing, is none of the
player's: a tail, or somebody next door. From pianissimo to fortissimo recorded notes of one player
lie within some 20 dB; a soft note that was asked for answers it, however soft."""


def in_order(
    measured: Evidence,
    answers: Sequence[Answer],
    expected_notes: ExpectedNotes,
    hidden: Collection[int],
) -> list[HeardNote]:
    """Heard notes by onset, missed ones before the next that was played; hidden: the places of
    those that may have sounded though nothing answers them."""
    features, sounds = measured.features, measured.segments
    ringing = {
        a.segment
        for a in answers
        if (not (a.right or a.once_more) and may_ring_on(features, sounds, a.segment))
        or (not a.right and is_mixture(features, sounds, a.segment))
    }
    unclear = {
        a.index
        for a in answers
        if a.segment in ringing or _is_unclear_octave(measured, expected_notes, a)
    }
    unclear |= set(hidden)
    left = _unanswered(answers, expected_notes, unclear)
    heard: list[HeardNote] = []
    blip = False
    unsaid = ringing | _octaves_first(sounds, answers) | _too_low(measured, answers)
    for answer in _near_enough(sounds, answers):
        place = answer.segment
        if is_squeezed_in(sounds, answer):
            slips = place not in ringing and not is_both_neighbours(features, sounds, place)
            blip = blip or slips
            continue
        if place in unsaid or (answer.wrong and answer.index in unclear):
            continue
        index = None if answer.wrong else answer.index
        while index is not None and left and (left[0].index or 0) < index:
            heard.append(left.pop(0))
        heard.append(_heard(measured, expected_notes, answer, blip))
        blip = False
    return heard + left


def _unanswered(
    answers: Sequence[Answer], expected_notes: ExpectedNotes, not_judged: Collection[int | None]
) -> list[HeardNote]:
    """The notes that no sound answers."""
    played = played_at(answers)
    return [
        HeardNote(
            note.index,
            note.pitch,
            State.NOT_JUDGED if note.index in not_judged else State.MISSED,
        )
        for note in expected_notes.notes
        if note.index not in played
    ]


def _near_enough(found: Sequence[NoteSegment], answers: Sequence[Answer]) -> list[Answer]:
    """The answers, without what nobody asked for and is too faint to be the player's."""
    asked_db = [found[a.segment].level_db for a in answers if a.right]
    faint_db = float(np.median(asked_db)) - FAINT_DB if asked_db else -np.inf
    return [
        answer for answer in answers if answer.right or found[answer.segment].level_db > faint_db
    ]


def _too_low(measured: Evidence, answers: Sequence[Answer]) -> set[int]:
    """The sounds nobody asked for that lie lower than the instrument goes: a word, no note."""
    extra = (answer.segment for answer in answers if answer.index is None)
    return {each for each in extra if lies_low(measured.features, measured.segments[each])}


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
        and segment.is_octave_below(after)
        and segment.is_joined_to(after)
    )


def _is_unclear_octave(measured: Evidence, expected_notes: ExpectedNotes, answer: Answer) -> bool:
    """Whether what sounds an octave above or below the note asked for may be that note after all:
    a room may take a fundamental away, and bring out what lies an octave under one."""
    if answer.index is None or not answer.wrong:
        return False
    segment = measured.segments[answer.segment]
    above = segment.midi - expected_notes.midi[answer.index]
    if abs(above - OCTAVE) < WRONG_SEMITONES:
        return may_be_octave_below(measured.features, segment)
    return abs(above + OCTAVE) < WRONG_SEMITONES and may_only_seem_lower(measured.features, segment)


def _heard(
    measured: Evidence, expected_notes: ExpectedNotes, answer: Answer, blip: bool
) -> HeardNote:
    """The heard note of an answer; what only seemed to sound before an onset that isn't sure is two
    notes ringing together, and so is a note whose harmonics are as far off as another's: its pitch
    is that of its course."""
    heard = measured.heard(answer.segment)
    blip = blip and heard.onset_sure
    if answer.index is None or answer.wrong:
        return replace(heard, blip=blip, instead_of=answer.index)
    note = expected_notes.notes[answer.index]
    midi, cents = heard.midi, None
    if midi is not None:
        off = midi - expected_notes.midi[answer.index]
        if abs(off) > WRONG_SEMITONES:
            midi = measured.segments[answer.segment].midi
        elif measured.knows_cents(answer.segment):
            cents = float(100 * off)
    return replace(
        heard,
        blip=blip,
        index=note.index,
        expected=note.pitch,
        state=State.PLAYED,
        midi=midi,
        cents=cents,
    )
