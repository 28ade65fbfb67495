"""Sounds that are their neighbours ringing together, and no note.

Where a hall rings on, the last note and the next may look like a third for a moment, and a note may
seem to leave its pitch and come back. What such a sound has for itself doesn't rise, as a note's
own harmonics do, nor does anything surely begin there.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence, Set
from dataclasses import replace

import numpy as np

from trainer.ear.analysis.features import Features
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.note_segments import (
    SHORT_CLEAR,
    SHORT_S,
    as_one,
    is_short,
)
from trainer.ear.segments.own_harmonics import UP_DB, own_level_db, own_tone, rise_db
from trainer.ear.segments.reattacks import likeliest_beginning
from trainer.ear.segments.spurious_tones import SHADOW_S
from trainer.ear.segments.stroke_place import BEGINS_SURE_ODDS

LEAST_OWN_DB = 18.0
"""What sounds between two fingerings has at most this much less for itself than with its
neighbours: six of made flutes, dry and in a room of 0.4 s, 9 to 16 dB; of six that rooms made of
two notes ringing together four had 21 to 39 (our own measurement)."""


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


def mixtures(features: Features, found: Sequence[NoteSegment]) -> set[int]:
    """Places of the sounds that are others ringing together."""
    return {place for place in range(len(found)) if is_mixture(features, found, place)}


def no_notes(features: Features, found: Sequence[NoteSegment], unasked: Set[int]) -> set[int]:
    """Places of the sounds nobody asked for that are others ringing together, or, between two
    others, too short to tell unless they were asked for, or that ring through one note."""
    inside = {place for place in unasked if 0 < place < len(found) - 1}
    return {
        place
        for place in inside
        if is_short(found[place])
        or is_mixture(features, found, place)
        or (
            not unasked.isdisjoint({place - 1, place + 1})
            and _rings_through(features, found, place)
        )
    }


def _rings_through(features: Features, found: Sequence[NoteSegment], place: int) -> bool:
    """Whether what rings of an earlier note is heard in the middle of another one: a room takes
    that away for a moment, and brings it back."""
    before, sound, after = found[place - 1 : place + 2]
    joined = sound.is_joined_to(before) and sound.is_joined_to(after)
    return joined and before.has_pitch_of(after) and may_ring_on(features, found, place)


def may_ring_on(features: Features, found: Sequence[NoteSegment], place: int) -> bool:
    """Whether a sound between two others may be what rings of the one before them, in a room: it
    has its pitch, doesn't rise out of nothing, and isn't a tone by itself that is louder still."""
    if place < 2 or not found[place].has_pitch_of(found[place - 2]):
        return False
    earlier, between, sound = found[place - 2 : place + 1]
    if sound.has_pitch_of(between) or _stands_louder(sound, earlier):
        return False
    own = own_tone(features, between, sound)
    return own is None or own.rise is None


def _stands_louder(sound: NoteSegment, earlier: NoteSegment) -> bool:
    """Whether a clear sound stands for a while, louder than the one it would ring on from: what
    rings only falls."""
    stands = sound.length_s >= SHADOW_S and sound.clarity >= SHORT_CLEAR
    return stands and sound.level_db > earlier.level_db


def is_two_ringing(
    features: Features, before: NoteSegment, segment: NoteSegment, after: NoteSegment
) -> bool:
    """Whether a sound between two others is those two ringing together, which may have the period
    of a third: what it has for itself is too soft. Of what has nothing for itself it isn't known.
    """
    beside = before.midi, after.midi
    own_db = own_level_db(features, segment.midi, segment.from_s, segment.to_s, beside)
    return own_db is not None and own_db < segment.level_db - LEAST_OWN_DB


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
