"""Short sounds between two notes that nobody asked for: a slip of the fingers, or the room's doing.

As the fingers change a third note may sound for a moment, and a student should hear of it. Where a
room rings on, the note before the last may come through, or two notes together look like a third.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.ear.alignment.align import Answer
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import HOP_S, WINDOW_S
from trainer.ear.segments.note_segment import BLIP_S, NoteSegment
from trainer.ear.segments.note_segments import SHORT_CLEAR
from trainer.ear.segments.own_harmonics import own_level_db, own_tone
from trainer.ear.segments.spurious_tones import SHADOW_S

LEAST_OWN_DB = 18.0
"""What sounds between two fingerings has at most this much less for itself than with its
neighbours: six of made flutes, dry and in a room of 0.4 s, 9 to 16 dB; of six that rooms made of
two notes ringing together four had 21 to 39 (our own measurement)."""


def is_squeezed_in(found: Sequence[NoteSegment], answer: Answer) -> bool:
    """A short extra sound squeezed in between two others."""
    segment = found[answer.segment]
    inside = 0 < answer.segment < len(found) - 1
    if answer.index is not None or not inside or segment.length_s >= BLIP_S:
        return False
    before, after = found[answer.segment - 1], found[answer.segment + 1]
    return segment.is_joined_to(before) and segment.is_joined_to(after)


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


def is_both_neighbours(features: Features, found: Sequence[NoteSegment], place: int) -> bool:
    """Whether a sound between two others is no third one, but those two together."""
    before, segment, after = found[place - 1 : place + 2]
    return may_be_both(before, segment, after) or is_two_ringing(features, before, segment, after)


def may_be_both(before: NoteSegment, segment: NoteSegment, after: NoteSegment) -> bool:
    """Whether a sound between two others, and between their pitches, may be both of them seen in
    one window, as the fingers change."""
    lower, upper = sorted((before.midi, after.midi))
    return lower < segment.midi < upper and segment.length_s < WINDOW_S + HOP_S


def is_two_ringing(
    features: Features, before: NoteSegment, segment: NoteSegment, after: NoteSegment
) -> bool:
    """Whether a sound between two others is those two ringing together, which may have the period
    of a third: what it has for itself is too soft. Of what has nothing for itself it isn't known.
    """
    beside = before.midi, after.midi
    own_db = own_level_db(features, segment.midi, segment.from_s, segment.to_s, beside)
    return own_db is not None and own_db < segment.level_db - LEAST_OWN_DB
