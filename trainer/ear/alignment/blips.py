"""Short sounds between two notes that nobody asked for: a slip of the fingers, or the room's doing.

As the fingers change a third note may sound for a moment, and a student should hear of it. Where a
room rings on, the note before the last may come through, or two notes together look like a third.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.ear.alignment.align import Answer
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import HOP_S, WINDOW_S
from trainer.ear.segments.mixtures import is_two_ringing
from trainer.ear.segments.note_segment import BLIP_S, NoteSegment


def is_squeezed_in(found: Sequence[NoteSegment], answer: Answer) -> bool:
    """A short extra sound squeezed in between two others."""
    segment = found[answer.segment]
    inside = 0 < answer.segment < len(found) - 1
    if answer.index is not None or not inside or segment.length_s >= BLIP_S:
        return False
    before, after = found[answer.segment - 1], found[answer.segment + 1]
    return segment.is_joined_to(before) and segment.is_joined_to(after)


def is_both_neighbours(features: Features, found: Sequence[NoteSegment], place: int) -> bool:
    """Whether a sound between two others is no third one, but those two together."""
    before, segment, after = found[place - 1 : place + 2]
    return may_be_both(before, segment, after) or is_two_ringing(features, before, segment, after)


def may_be_both(before: NoteSegment, segment: NoteSegment, after: NoteSegment) -> bool:
    """Whether a sound between two others, and between their pitches, may be both of them seen in
    one window, as the fingers change."""
    lower, upper = sorted((before.midi, after.midi))
    return lower < segment.midi < upper and segment.length_s < WINDOW_S + HOP_S
