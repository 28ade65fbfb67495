"""Sounds nobody asked for that are the beginning of the note after them, seen at another pitch.

Where a room rings on, a note may be seen late: the note before seems to be struck again, one of the
new note's harmonics comes out first, or the two together look like a third.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from trainer.ear.analysis.features import Features
from trainer.ear.analysis.note_pitch import note_pitch
from trainer.ear.analysis.tone_level import HARMONICS
from trainer.ear.segments.mixtures import is_two_ringing
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.note_segments import SHORT_CLEAR, goes_on
from trainer.ear.segments.own_harmonics import (
    RISES_S,
    UP_DB,
    apart_from,
    rise_db,
    stands_from_s,
)

HALF_STEP_TO_SEMITONES = 1.5
"""Two notes out of tune with each other that stand nearer than this are a half-step apart."""
STANDS_WITHIN_S = 0.055
"""What begins with a sound that is seen at another pitch stands so soon, and the sound goes on. Of
800 notes of 0.05 to 0.16 s that were put before another, the one before it once more, a half or
whole step from it or at one of the harmonics of its neighbours, dry, in 0.4 and in 0.8 s, none had
the other stand so soon and go on for RISES_S (our own measurement, recorded notes)."""
TELLING = 3
"""Harmonics of one pitch apart from another's, of those followed: the highest alone may be too soft
to be heard. Our own choice."""


def with_their_beginnings(
    features: Features, found: Sequence[NoteSegment], unasked: Collection[int]
) -> tuple[NoteSegment, ...]:
    """The sounds; one of those nobody asked for that is the beginning of the sound after it is part
    of that one."""
    kept: list[NoteSegment] = []
    for place, sound in enumerate(found):
        if (
            place - 1 in unasked
            and len(kept) > 1
            and _is_its_beginning(features, kept[-2], kept[-1], sound)
        ):
            sound = replace(sound, from_s=kept.pop().from_s, again_s=None)
        kept.append(sound)
    return tuple(kept)


def _is_its_beginning(
    features: Features, before: NoteSegment, sound: NoteSegment, after: NoteSegment
) -> bool:
    """Whether a sound into which the one before rings is the beginning of the one after."""
    if not (sound.is_joined_to(before) and sound.is_joined_to(after)):
        return False
    apart = apart_from(features.tuning, after.midi, sound.midi, HARMONICS).sum() >= TELLING
    if apart and _stands_in(features, before, sound, after):
        return True
    if abs(after.midi - before.midi) < HALF_STEP_TO_SEMITONES or sound.clarity >= SHORT_CLEAR:
        return False
    return _is_off(features, before, sound, after) or (
        bool(apart) and _is_both(features, before, sound, after)
    )


def _stands_in(
    features: Features, before: NoteSegment, sound: NoteSegment, after: NoteSegment
) -> bool:
    """Whether what the note after has for itself, and wasn't there before, stands as a sound begins
    and long before it ends."""
    stands_s = stands_from_s(features, after, (before.midi, sound.midi), sound.from_s)
    return stands_s is not None and stands_s <= min(
        sound.from_s + STANDS_WITHIN_S, sound.to_s - RISES_S
    )


def _is_off(
    features: Features, before: NoteSegment, sound: NoteSegment, after: NoteSegment
) -> bool:
    """Whether the harmonics of a sound, without those of the one before, have the pitch of the one
    after; a half-step's can't be told apart in so short a time.

    A low note under one that rings may seem up to a semitone off for a tenth of a second. Of ten
    such sounds in lines of recorded notes in rooms of 0.7 and 0.8 s the harmonics of nine had the
    note's pitch; of 230 notes played a half or whole step off and put right at once, dry, in 0.4
    and in 0.8 s, those of one, in 0.8 s (our own measurement).
    """
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


def _is_both(
    features: Features, before: NoteSegment, sound: NoteSegment, after: NoteSegment
) -> bool:
    """Whether a sound near the note after has nothing for itself that is heard or rises.

    Of 15 such sounds in lines of recorded notes in rooms of 0.7 and 0.8 s 13 had nothing, of 265
    notes played a half or whole step off before the right one, dry, in 0.4 and in 0.8 s, none (our
    own measurement).
    """
    if abs(after.midi - sound.midi) >= HALF_STEP_TO_SEMITONES:
        return False
    rises_db = rise_db(features, sound, (before.midi, after.midi))
    return -np.inf < rises_db < UP_DB and is_two_ringing(features, before, sound, after)
