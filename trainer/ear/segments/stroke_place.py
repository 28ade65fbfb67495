"""Where a note is struck and where it speaks, and whether its stroke is sure of its place.

The seam shows both to a millisecond where nothing rings; `speaking_network` hears in which of its
places they lie, under what rings too, and how sure that is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from trainer.ear.analysis.envelope import Envelope
from trainer.ear.analysis.features import Features
from trainer.ear.segments.note_segment import JOINED_S, NoteSegment
from trainer.ear.segments.note_start import AGAIN_SEMITONES, BURST_CLEAR_DB, onset_of
from trainer.ear.segments.own_harmonics import OwnTone, own_tone
from trainer.ear.segments.seam_view import seen_at
from trainer.ear.segments.speaking_network import Spoken, speaking_facts, speaking_network
from trainer.ear.segments.transition import Transition
from trainer.music.note import Start

SURE = 0.9
"""A stroke is sure of its place with such a chance."""
AGREES_S = 0.012
"""What the seam shows so near to where the network hears it is as fine as it is right."""
AGAIN_S = 0.016
"""What the seam shows of a stroke in the middle of a sound is taken so near to where the note was
heard to start again, else that place. In rooms one pitch rises out of its own ringing: of 951 such
strokes on recorded notes, in rooms of 0.4 and 0.8 s, the seam alone put 89 more than 25 ms early
and 140 as late, so held 10 and 17 (our own measurement, on pitches that tests.bench.ear.recorded
doesn't play)."""
AGAIN_DB = (BURST_CLEAR_DB, 8.0)
"""Such a stroke is sure of its place by a burst or by a dip so deep."""
BURST_ALONE_DB = 15.0
"""... but so strong a burst is the stroke: a room leaves few so strong (5 of those 951)."""
EARLIEST_S = 0.06
"""An onset that the seam shows lies no further before the place where the pitch was first seen."""
LATEST_S = 0.015
"""... and no further after it."""
LATE_SLUR_S = 0.03
"""A change under a slur so long after the note's own tone has begun is where a room let the tone
through."""
ATTACK_END_DB = 3.0
"""A note has risen when it is so near to its steady level."""
SPEAKS_WITHIN_S = 0.5
SPEAKS_DB = 10.0
"""A tone speaks where its level passes this far below the loudest of its first half second to stay
there: recorded notes whose air swings before the tone catches stand 15 to 25 dB below it meanwhile.
"""
SPOKEN_S = 0.03
"""What has stood there for so long has spoken; if it falls again that is the room, which beats by
10 dB and more."""


@dataclass(frozen=True)
class StrokePlace:
    """The two places of a note."""

    stroke_s: float
    """Where tongue, air or fingers begin it."""
    speaks_s: float
    """Where its tone stands."""
    sure: bool
    """False where the stroke may lie elsewhere, hidden by what rings."""
    slow_chance: float | None = None
    """That it was slow to speak; None where that isn't heard."""


def stroke_place(
    features: Features,
    edge: Transition,
    kind: Start,
    segment: NoteSegment,
    before: NoteSegment | None,
    *,
    is_said: bool,
) -> StrokePlace:
    """Where a sound is struck and speaks that most likely starts so; `before`: the sound before
    it; is_said: that start is sure."""
    levels, onset_s = features.envelope, onset_of(edge, kind)
    shown_s = min(max(onset_s, segment.from_s - EARLIEST_S), segment.from_s + LATEST_S)
    if segment.again_s is not None or _comes_again(before, segment):
        stroke_s = shown_s
        if segment.again_s is not None:
            stroke_s = _struck_again(edge, onset_s, segment.again_s)
        burst_db, dip_db = AGAIN_DB
        sure = edge.transient_db >= burst_db or edge.dip_db >= dip_db
        return StrokePlace(stroke_s, _speaks(levels, stroke_s, segment.to_s), sure)
    if kind is Start.SLURRED:
        own = None if before is None else own_tone(features, before, segment)
        rise = None if own is None else own.rise
        sure = is_said or (rise is not None and shown_s <= rise.begins_s + LATE_SLUR_S)
        change = StrokePlace(shown_s, _speaks(levels, shown_s, segment.to_s), sure)
        return change if own is None else changed_with_its_tone(own, change)
    at_s, spoken = _spoken(features, edge.rough_s, segment, before)
    heard = spoken.stroke_place
    stroke_s = _finest(shown_s, at_s + heard.at_s)
    stands_s = _speaks(levels, stroke_s, segment.to_s)
    speaks_s = _finest(stands_s, at_s + spoken.speaks_place.at_s)
    return StrokePlace(stroke_s, max(stroke_s, speaks_s), heard.chance >= SURE, spoken.slow_chance)


def changed_with_its_tone(own: OwnTone, change: StrokePlace) -> StrokePlace:
    """The place of a change under a slur: where its own tone begins, if the change that was seen
    comes later than that or isn't sure; a small rise tells nothing against a sure place."""
    rise = own.rise if change.sure else own.climb
    if rise is None or (change.sure and change.stroke_s <= rise.begins_s + LATE_SLUR_S):
        return change
    sure = rise.sure and not own.stood_before(rise.begins_s)
    return StrokePlace(rise.begins_s, rise.speaks_s, sure)


def _comes_again(before: NoteSegment | None, segment: NoteSegment) -> bool:
    """Whether a sound follows one of its own pitch: of such seams the network knows nothing."""
    joined = before is not None and segment.from_s - before.to_s < JOINED_S
    return before is not None and joined and abs(before.midi - segment.midi) < AGAIN_SEMITONES


def _spoken(
    features: Features, seam_s: float, segment: NoteSegment, before: NoteSegment | None
) -> tuple[float, Spoken]:
    """What is heard of a note at its seam, or where its own tone begins, whichever is surer, and
    where that is: in a hall its pitch may win through a quarter of a second late."""
    first = _spoken_at(features, seam_s, segment, before)
    if before is None or first.stroke_place.chance >= SURE:
        return seam_s, first
    own = own_tone(features, before, segment)
    if own is None or own.climb is None:
        return seam_s, first
    begins_s = own.climb.begins_s
    earlier = replace(segment, from_s=min(segment.from_s, begins_s))
    second = _spoken_at(features, begins_s, earlier, before)
    if second.stroke_place.chance > first.stroke_place.chance:
        return begins_s, second
    return seam_s, first


def _spoken_at(
    features: Features, at_s: float, segment: NoteSegment, before: NoteSegment | None
) -> Spoken:
    joined = before is not None and segment.from_s - before.to_s < JOINED_S
    beside = before if before is not None and joined else segment
    _, seen = seen_at(features, at_s, beside.midi, segment.midi)
    return speaking_network().spoken(seen, speaking_facts(before, segment))


def _finest(shown_s: float, heard_s: float) -> float:
    """What the seam shows, where that is what is heard."""
    return shown_s if abs(shown_s - heard_s) <= AGREES_S else heard_s


def _struck_again(edge: Transition, onset_s: float, again_s: float) -> float:
    """Where a stroke in the middle of a sound lies."""
    is_burst = edge.transient_db >= BURST_ALONE_DB and abs(onset_s - again_s) <= EARLIEST_S
    return onset_s if is_burst or abs(onset_s - again_s) <= AGAIN_S else again_s


def _speaks(levels: Envelope, onset_s: float, to_s: float) -> float:
    """Where the tone stands: where its level passes SPEAKS_DB below its first loud part to stay."""
    level = levels.between(levels.wide_db, onset_s, min(to_s, onset_s + SPEAKS_WITHIN_S))
    loudest_db = float(level.max())
    stands = int(np.argmax(level >= loudest_db - ATTACK_END_DB))
    below = np.flatnonzero(level[:stands] < loudest_db - SPEAKS_DB)
    edges = np.array([-1, *below, stands + round(SPOKEN_S / levels.step_s)])
    spoken = int(np.argmax(np.diff(edges) > SPOKEN_S / levels.step_s))
    return onset_s + int(edges[spoken] + 1) * levels.step_s
