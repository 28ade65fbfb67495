"""Sounds that are their neighbours ringing together, and no note.

Where a hall rings on, the last note and the next may look like a third for a moment, and a note may
seem to leave its pitch and come back. What such a sound has for itself doesn't rise, as a note's
own harmonics do, nor does anything surely begin there.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from trainer.ear.analysis.features import Features
from trainer.ear.analysis.note_pitch import note_pitch
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.note_segments import (
    SHORT_CLEAR,
    SHORT_S,
    as_one,
    goes_on,
    is_short,
)
from trainer.ear.segments.own_harmonics import UP_DB, rise_db
from trainer.ear.segments.reattacks import likeliest_beginning
from trainer.ear.segments.spurious_tones import SHADOW_S
from trainer.ear.segments.stroke_place import BEGINS_SURE_ODDS

HALF_STEP_TO_SEMITONES = 1.5
"""Two notes out of tune with each other that stand nearer than this are a half-step apart."""


def without(
    features: Features, found: Sequence[NoteSegment], left_out: Collection[int]
) -> tuple[NoteSegment, ...]:
    """The sounds but for those at some places, none the first: meanwhile the one before goes on if
    it touches them, and on into the one after where that has its pitch and doesn't surely begin."""
    kept: list[NoteSegment] = []
    for place, sound in enumerate(found):
        if place in left_out:
            if sound.is_joined_to(kept[-1]):
                kept[-1] = replace(kept[-1], to_s=sound.to_s)
        elif (
            place - 1 in left_out
            and sound.has_pitch_of(kept[-1])
            and sound.is_joined_to(kept[-1])
            and not _surely_begins(features, sound, found[place - 1].length_s)
        ):
            kept[-1] = as_one(kept[-1], sound)
        else:
            kept.append(sound)
    return tuple(kept)


def with_mixed_beginnings(
    features: Features, found: Sequence[NoteSegment], unasked: Collection[int]
) -> tuple[NoteSegment, ...]:
    """The sounds; one of those nobody asked for that is the beginning of the sound after it is part
    of that one."""
    kept: list[NoteSegment] = []
    for place, sound in enumerate(found):
        if (
            place - 1 in unasked
            and len(kept) > 1
            and _is_mixed_beginning(features, kept[-2], kept[-1], sound)
        ):
            begins = kept.pop()
            sound = replace(sound, from_s=begins.from_s, again_s=begins.again_s)
        kept.append(sound)
    return tuple(kept)


def _is_mixed_beginning(
    features: Features, before: NoteSegment, sound: NoteSegment, after: NoteSegment
) -> bool:
    """Whether a sound into which the one before rings is the beginning of the one after, going by
    its harmonics without that one's; a half-step's can't be told apart in so short a time.

    A low note under one that rings may seem up to a semitone off for a tenth of a second. Of ten
    such sounds in lines of recorded notes in rooms of 0.7 and 0.8 s the harmonics of nine had the
    note's pitch; of 230 notes played a half or whole step off and put right at once, dry, in 0.4
    and in 0.8 s, those of one, in 0.8 s (our own measurement).
    """
    near = abs(after.midi - before.midi) < HALF_STEP_TO_SEMITONES
    if near or sound.clarity >= SHORT_CLEAR or not sound.is_joined_to(before):
        return False
    pitch = note_pitch(
        features.samples,
        features.sample_rate_hz,
        features.frames,
        sound.from_s,
        sound.to_s,
        sound.midi,
        features.tuning.a4_hz,
        ringing_hz=features.tuning.midi_hz(before.midi),
        clear=False,
    )
    return pitch is not None and goes_on(replace(sound, midi=pitch.midi), after, features.envelope)


def mixtures(features: Features, found: Sequence[NoteSegment]) -> set[int]:
    """Places of the sounds that are others ringing together."""
    return {place for place in range(len(found)) if is_mixture(features, found, place)}


def no_notes(
    features: Features, found: Sequence[NoteSegment], unasked: Collection[int]
) -> set[int]:
    """Places of the sounds nobody asked for that are others ringing together, or, between two
    others, too short to tell unless they were asked for."""
    inside = {place for place in unasked if 0 < place < len(found) - 1}
    return {
        place for place in inside if is_short(found[place]) or is_mixture(features, found, place)
    }


def is_mixture(features: Features, found: Sequence[NoteSegment], place: int) -> bool:
    """Whether a short sound between two others that it touches may be these ringing together, or
    the octave in which the next one speaks first. Of another that has nothing for itself it isn't
    known. Of 324 sounds so short that aren't clear, in tunes in halls, it finds 80 of 134 that
    were no note and 9 of 190 that were (our own measurement; counted with those between two of one
    pitch, which are spared)."""
    if not 0 < place < len(found) - 1:
        return False
    before, sound, after = found[place - 1 : place + 2]
    joined = sound.is_joined_to(before) and sound.is_joined_to(after)
    if sound.length_s >= SHADOW_S or sound.again_s is not None or not joined:
        return False
    if _surely_begins(features, sound, SHADOW_S):
        return False
    if sound.is_octave_below(after):
        return True
    if before.has_pitch_of(after):  # as in a trill: they make no other pitch together
        return sound.is_harmonic_of(after)
    unclear = sound.length_s < SHORT_S or sound.clarity < SHORT_CLEAR
    return unclear and -np.inf < rise_db(features, sound, (before.midi, after.midi)) < UP_DB


def _surely_begins(features: Features, sound: NoteSegment, before_s: float) -> bool:
    """Whether a sound surely begins where its pitch was first seen, or up to so long before."""
    begins = likeliest_beginning(sound, features, before_s)
    return begins is not None and begins.log_odds >= BEGINS_SURE_ODDS
