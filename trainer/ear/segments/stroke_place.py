"""Where a note is struck and where it speaks, and whether its stroke is sure of its place.

In a room the note before rings over the stroke. Three things show it nevertheless: a burst or dip
in the whole sound, the harmonics that the new note has for itself, and the tongue alone; where
these leave doubt, or the room fills the gaps, a network says where the note begins.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from trainer.ear.analysis.envelope import WIDE_S, Envelope, filtered_db, tone_stops
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Track
from trainer.ear.analysis.order_statistics import median
from trainer.ear.heard import Room
from trainer.ear.segments.note_segment import OCTAVE, NoteSegment
from trainer.ear.segments.note_start import BURST_CLEAR_DB, SURE, onset_of
from trainer.ear.segments.own_harmonics import OwnRise, OwnTone, levels_at, own_tone, summed_db
from trainer.ear.segments.reattacks import STROKES_APART_S, Reattack, likeliest_beginning
from trainer.ear.segments.transition import Transition
from trainer.music.note import Start

CLEAR_TONE = 0.985
"""So clear, nothing rings in it."""
STROKE_DB = (BURST_CLEAR_DB, 8.0)
"""A stroke is sure of its place by a burst or by a dip so deep: of 910 starts of recorded notes in
rooms of 0.4 to 0.8 s one in six with neither came more than 25 ms late, of the others one in 35; in
no room one in a thousand has neither (our own measurement, on pitches that tests.bench.ear.recorded
doesn't play)."""
BURST_SURE_DB = 10.0
"""No room leaves so strong a burst where no tongue was."""
HIDDEN_STROKE_DB = (BURST_SURE_DB, 20.0)
"""... and by such, as no room leaves, where its own tone doesn't rise out of what rings: of 35 with
less, in rooms of 0.4 to 0.8 s and in halls, 9 came late or early by more (the same pitches)."""
AGAIN_S = 0.016
"""What the seam shows of a stroke in the middle of a sound is taken so near to where the note was
heard to start again, else that place. In rooms one pitch rises out of its own ringing: of 951 such
strokes on recorded notes, in rooms of 0.4 and 0.8 s, the seam alone put 89 more than 25 ms early
and 140 as late, so held 10 and 17 (our own measurement, on pitches that tests.bench.ear.recorded
doesn't play)."""
BEGINS_EARLIER_S = 0.14
"""Where the room fills the gaps, or a place isn't sure, it is held to where the network hears the
sound itself begin, as soon as that is likelier than not; further before only where it is surely so:
a recorded note speaks within 0.12 s of its stroke, and what begins earlier may be the air of a soft
one or the end of the note before (of 14 places that were moved off by 0.1 s and more, in rooms of
0.3 and 1.5 s, 12 lay so far). But where a far hall lets the pitch through late, of 49 notes of
tunes that surely began so far before, 44 began there and 21 where the sound shows it (our own
measurement, recorded notes and a SoundFont's; within 50 ms). Where gaps are heard and neither sound
rings into the other the seam is the finer measure of what both show (whatever rings, 114 of 440
soft strokes of the made flute in 0.8 s came more than 15 ms off, so 100), and later is where a note
speaks that is slow to. Of 2,328 quick recorded notes in rooms of 0.4 to 0.8 s, asked so of unsure
places and of sure ones in doubt, 20 lay more than 50 ms off, then 6 (our own measurement)."""
BEGINS_SURE_ODDS = float(np.log(SURE / (1 - SURE)))
"""... a sure one where that is as sure as what is said has to be. Of 693 sounds of twelve tunes in
halls near by 71 lay more than 25 ms off and 23 more than 50, held so 50 and 17; of 653 far away 165
and 84, now 119 and 68 (our own measurement, recorded notes and a SoundFont's)."""
BOTH_SHOW_S = 0.04
"""What the sound and the network, if that is sure, show so near to each other is sure: of 655 such
places in these halls 30 lay more than 25 ms off, of 43 that it moved further 7 (the same notes)."""
ELSEWHERE_S = 0.05
"""A place isn't sure where the network hears the sound begin further before it than this, likelier
than not, or after it where only its own tone shows that place: the same note from before may ring
on, dip at the change and come back. Of 2,881 right places of recorded notes in rooms of 0.4 and
0.8 s none is in doubt so; of 32 more than 50 ms off, 30 of them of notes slow to speak, 11 (our own
measurement)."""
LATE_S = 0.03
"""... nor where it is surely heard to begin so much before: near that a note counts as late. Of
3,373 sure places of clean lines, nine flutes and piccolos in rooms of 0.4 and 0.8 s and a hall of
1.0 s, 30 are in doubt so, 20 of which lay more than 20 ms after the note spoke; of the others 68
did, and with 25 ms 63 are in doubt, of which 26 did (our own measurement)."""
BURST_ALONE_DB = 15.0
"""... but so strong a burst is the stroke: a room leaves few so strong (5 of those 951)."""
EARLIEST_S = 0.06
"""An onset lies no further before the place where the pitch was first seen."""
LATEST_S = 0.015
"""... and no further after it."""
LATER_S, LATE_SLUR_S = 0.015, 0.03
"""A stroke, or the change under a slur that isn't sure, so long after the note's own tone has begun
is where a room let the tone through."""
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
SETTLES_S = 0.03
"""The sound before has died away so long before its end as it is seen."""
SLOWEST_S = 0.12
"""So long before its rise the air of no recorded note begins, in no room and in rooms of 0.4 and
0.8 s (0.11 s at most, our own measurement)."""
SWINGS_S = 0.02
SWING_DB, SWING_RISE_DB = 27.0, 6.0
"""A slow note's air stands at most so far below its tone meanwhile, and so far above the quiet
before it."""
BURST_S, BURST_DB = 0.03, 22.0
"""Or the tongue is heard, and then little until the tone: recorded strokes stand 11 to 19 dB below
their note."""
CLIMBS_S, CLIMBS_NEAR_S = 0.008, 0.01
CLIMBS_DB = 11.0
"""That air is the note's own where a tongue lets it go so quickly, or its tone sounds in it. Before
recorded slow notes it climbs by 15 to 20 dB in no room and by 8 to 19 in rooms; breaths of filtered
noise or recorded hiss that end before them by 1 to 10, one in ten by more (our own measurement)."""
THUMPS_HZ = 200.0
"""Air that meets the microphone thumps below; the flute's lowest note has 247 Hz."""
TONAL_DB = 15.0
"""A tone's harmonics stand so far above what lies between them: 27 dB and more in the median where
slow recorded notes sound softly before they catch, 12 at most in long breaths taken before others
(our own measurement, eight tunes)."""
ALONE_DB = 9.0
ALONE_FROM_S, BESIDE_S, APART_S = 0.12, 0.025, 0.006
"""A tongue heard by itself, so long before its tone, stood 10 to 17 dB over what lay on either side
of it, in rooms 10 to 12; of 530 strokes whose tone followed at once, in a room or none, one had
such a burst before it (our own measurement, on all recorded pitches)."""
HIDES_DB = 20.0
"""The air of slow notes stands 15 to 25 dB below their tone: what rings louder hides it."""
LONG_GAP_S = 0.045
"""Longer than between recorded detached notes, the ear's own error with it."""


@dataclass(frozen=True)
class StrokePlace:
    """The two places of a note."""

    stroke_s: float
    """Where tongue, air or fingers begin it."""
    speaks_s: float
    """Where its tone stands."""
    sure: bool
    """False where the stroke may lie earlier, hidden by what rings."""
    may_hide: bool = False
    """Whether the note before stopped so long before that a stroke may be hidden in between: what
    begins there may be the tone of a note slow to speak, which the network takes for its stroke."""


def stroke_place(
    features: Features,
    edge: Transition,
    kind: Start,
    segment: NoteSegment,
    before: NoteSegment | None,
    *,
    is_said: bool,
) -> StrokePlace:
    """Where a sound is struck and speaks that most likely starts so; `before`: the sound before it;
    is_said: that start is sure."""
    levels = features.envelope
    if segment.again_s is not None:
        stroke_s = _held_to(segment.again_s, onset_of(edge, kind), edge)
        speaks_s = _speaks(levels, stroke_s, segment.to_s)
        return StrokePlace(stroke_s, speaks_s, _stands_out(edge, STROKE_DB))
    place = _by_the_seam(features, edge, kind, segment, before, is_said=is_said)
    blurred = rings_over(features.room, before, segment)
    is_plain = _are_clear(before, segment) or edge.transient_db >= BURST_CLEAR_DB
    if not blurred and (place.may_hide or (place.sure and is_plain)):
        return place
    begins = _begins(features, segment, before)
    comes_late = begins is not None and begins_well_before(begins, place)
    if begins is not None and (comes_late or is_in_doubt(begins, place, edge)):
        place = replace(place, sure=False)
    if not blurred and place.sure:
        return place
    held = held_to_its_beginning(place, begins, edge)
    near = abs(held.stroke_s - place.stroke_s) <= BOTH_SHOW_S
    if near and not blurred and _are_clear(before, segment):
        return replace(place, sure=held.sure and not comes_late)
    if blurred and not near:
        return replace(held, speaks_s=_speaks(levels, held.stroke_s, segment.to_s))
    return replace(held, speaks_s=max(held.stroke_s, place.speaks_s))


def _begins(
    features: Features, segment: NoteSegment, before: NoteSegment | None
) -> Reattack | None:
    """Where the network hears a sound begin, after the one before it was seen: until then it hears
    that one's stroke."""
    if before is None:
        return likeliest_beginning(segment, features)
    return likeliest_beginning(segment, features, segment.from_s - before.from_s - STROKES_APART_S)


def rings_over(room: Room | None, before: NoteSegment | None, segment: NoteSegment) -> bool:
    """Whether the room fills the gap before a sound: as its note ends tell, or where none of them
    ends in silence, whether one of the two sounds isn't clear of the other."""
    return not _are_clear(before, segment) if room is None else room.blurs


def _are_clear(before: NoteSegment | None, segment: NoteSegment) -> bool:
    """Whether nothing is heard to ring in a sound and the one before it."""
    return before is None or min(before.clarity, segment.clarity) >= CLEAR_TONE


def is_in_doubt(begins: Reattack, place: StrokePlace, edge: Transition) -> bool:
    """Whether a sound likelier begins elsewhere than at a place, or nowhere near it: in halls the
    same note from before rings on and comes back. Of 1,750 places of clean lines that something
    rang into (the lines of LATE_S) nine are in doubt by the latter, among them the one that lay
    more than 60 ms off."""
    return begins.log_odds < 0.0 or begins_elsewhere(begins, place, edge)


def begins_elsewhere(begins: Reattack, place: StrokePlace, edge: Transition) -> bool:
    """Whether a sound likelier begins elsewhere than at a place: before it, or, where no stroke but
    only its own tone shows that, after it."""
    later_s = begins.at_s - place.stroke_s
    after = later_s > ELSEWHERE_S and not _stands_out(edge, STROKE_DB)
    return begins.log_odds >= 0.0 and (after or later_s < -ELSEWHERE_S)


def begins_well_before(begins: Reattack, place: StrokePlace) -> bool:
    """Whether a sound surely begins so long before a place that it would count as late there."""
    return begins.log_odds >= BEGINS_SURE_ODDS and begins.at_s < place.stroke_s - LATE_S


def held_to_its_beginning(
    place: StrokePlace, begins: Reattack | None, edge: Transition
) -> StrokePlace:
    """A place held to where the network hears the note begin, a sure one, and further off, only
    where that is sure too; what both show is sure."""
    if begins is None:
        return place
    far = begins.at_s < place.stroke_s - BEGINS_EARLIER_S
    if begins.log_odds < (BEGINS_SURE_ODDS if place.sure or far else 0.0):
        return place
    stroke_s = _held_to(begins.at_s, place.stroke_s, edge)
    near = abs(begins.at_s - place.stroke_s) <= BOTH_SHOW_S
    both = near and begins.log_odds >= BEGINS_SURE_ODDS
    return replace(
        place, stroke_s=stroke_s, sure=both or (place.sure and stroke_s == place.stroke_s)
    )


def _by_the_seam(
    features: Features,
    edge: Transition,
    kind: Start,
    segment: NoteSegment,
    before: NoteSegment | None,
    *,
    is_said: bool,
) -> StrokePlace:
    """The two places of a sound as the seam before it and the tone's own harmonics show them."""
    levels = features.envelope
    stroke_s = _near(onset_of(edge, kind), segment)
    speaks_s = _speaks(levels, stroke_s, segment.to_s)
    if kind in (Start.TONGUED, Start.BREATH):
        last_end_s = 0.0 if before is None else before.to_s
        stroke_s = _before_its_air(features, stroke_s, segment, last_end_s)
    if before is None:
        return StrokePlace(stroke_s, speaks_s, _stands_out(edge, STROKE_DB))
    own = own_tone(features, before, segment)
    clear = min(before.clarity, segment.clarity) >= CLEAR_TONE
    if kind is Start.SLURRED:
        change = StrokePlace(stroke_s, speaks_s, is_said or _change_is_sure(stroke_s, own))
        return change if own is None else changed_with_its_tone(own, change)
    place = StrokePlace(stroke_s, speaks_s, _stroke_is_sure(edge, stroke_s, own, clear=clear))
    if own is not None:
        place = _shown_by_its_tone(own, kind, place)
    return _shown_by_the_tongue(levels, edge, before, segment, place)


def _held_to(heard_s: float, onset_s: float, edge: Transition) -> float:
    """An onset, held to where a network heard the note start."""
    is_burst = edge.transient_db >= BURST_ALONE_DB and abs(onset_s - heard_s) <= EARLIEST_S
    return onset_s if is_burst or abs(onset_s - heard_s) <= AGAIN_S else heard_s


def _near(onset_s: float, segment: NoteSegment) -> float:
    """The onset, held to where the course saw the note begin: in a hall that is the surer sign."""
    return min(max(onset_s, segment.from_s - EARLIEST_S), segment.from_s + LATEST_S)


def _change_is_sure(change_s: float, own: OwnTone | None) -> bool:
    """Whether the change under a slur that isn't sure is sure of its place: where the new tone
    begins there."""
    rise = None if own is None else own.rise
    return rise is not None and change_s <= rise.begins_s + LATE_SLUR_S


def _stroke_is_sure(edge: Transition, stroke_s: float, own: OwnTone | None, *, clear: bool) -> bool:
    """Whether a stroke stands out of what the note before left ringing, and nothing of its tone
    came earlier; clear: neither sound rings into the other."""
    hidden = own is not None and own.rise is None
    stands_out = _stands_out(edge, HIDDEN_STROKE_DB if hidden else STROKE_DB)
    return stands_out and (clear or own is None or not own.stood_before(stroke_s))


def _stands_out(edge: Transition, least_db: tuple[float, float]) -> bool:
    burst_db, dip_db = least_db
    return edge.transient_db >= burst_db or edge.dip_db >= dip_db


def _shown_by_its_tone(own: OwnTone, kind: Start, place: StrokePlace) -> StrokePlace:
    """The place that its own tone shows, where the whole sound shows no sure one, or one after its
    tone; a soft stroke leaves less of a rise than of a change."""
    rise = _shows(own, place)
    if rise is None:
        return place
    late = place.stroke_s > rise.begins_s + LATER_S
    if not late and (place.sure or not rise.far or kind is Start.LEGATO_TONGUE):
        return place
    sure = rise.sure and not own.stood_before(rise.stroke_s)
    return StrokePlace(rise.stroke_s, rise.speaks_s, sure)


def changed_with_its_tone(own: OwnTone, place: StrokePlace) -> StrokePlace:
    """The place of a change under a slur: where its own tone begins, if the change that was seen
    comes later than that or isn't sure."""
    rise = _shows(own, place)
    if rise is None or (place.sure and place.stroke_s <= rise.begins_s + LATE_SLUR_S):
        return place
    sure = rise.sure and not own.stood_before(rise.begins_s)
    return StrokePlace(rise.begins_s, rise.speaks_s, sure)


def _shows(own: OwnTone, place: StrokePlace) -> OwnRise | None:
    """The rise of a sound's own tone that may tell its place: a small one tells nothing against a
    sure place."""
    return own.rise if place.sure else own.climb


def _shown_by_the_tongue(
    levels: Envelope,
    edge: Transition,
    before: NoteSegment,
    segment: NoteSegment,
    place: StrokePlace,
) -> StrokePlace:
    """The place of a tongue that is heard by itself after the note before has stopped; where none
    is, the place isn't sure if one might be hidden there."""
    until_s = place.stroke_s - SWINGS_S
    stopped_s = tone_stops(levels, before.from_s, until_s)
    tongue_s = _tongue(levels, max(stopped_s, place.stroke_s - ALONE_FROM_S), until_s)
    if tongue_s is not None:
        return replace(place, stroke_s=tongue_s, sure=True)
    may_hide = edge.transient_db < BURST_SURE_DB and _may_hide_a_stroke(
        levels, stopped_s, segment, place.stroke_s
    )
    return replace(place, sure=place.sure and not may_hide, may_hide=may_hide)


def _tongue(levels: Envelope, from_s: float, to_s: float) -> float | None:
    """Where a tongue is heard by itself: a burst of the high band, louder than what lies on either
    side; None where none is."""
    side, apart = round(BESIDE_S / levels.step_s), round(APART_S / levels.step_s)
    high = levels.between(levels.high_db, from_s - BESIDE_S, to_s + BESIDE_S)
    if high.size <= 2 * side:
        return None
    peak = side + int(high[side:-side].argmax())
    beside = high[peak - side : peak - apart], high[peak + apart : peak + side]
    if high[peak] - max(map(median, beside)) < ALONE_DB:
        return None
    return from_s + (peak - side) * levels.step_s


def _may_hide_a_stroke(
    levels: Envelope, stopped_s: float, segment: NoteSegment, onset_s: float
) -> bool:
    """Whether a stroke no tongue is heard at may lie earlier: the note before has stopped for
    longer than between detached notes, and what it left ringing is louder than the air of a slow
    note would be."""
    if onset_s - stopped_s < LONG_GAP_S:
        return False
    gap_db = median(levels.between(levels.wide_db, stopped_s, onset_s))
    return gap_db > segment.level_db - HIDES_DB


def _before_its_air(
    features: Features, onset_s: float, segment: NoteSegment, last_end_s: float
) -> float:
    """Where a detached note is struck: further back than its rise where its air swings for long
    before the tone catches, after the sound before has died away; a breath taken before the note
    isn't its air."""
    from_s = max(last_end_s - SETTLES_S, onset_s - SLOWEST_S, 0.0)
    if from_s >= onset_s - SWINGS_S:
        return onset_s
    step_s = features.envelope.step_s
    level = _above_thumps_db(features, from_s, onset_s)
    quietest = int(level.argmin())
    lowest_db = max(float(level[quietest]) + SWING_RISE_DB, segment.level_db - SWING_DB)
    climbed = quietest + int(np.argmax(np.append(level[quietest:] >= lowest_db, True)))
    swing = level[climbed:]
    if swing.size * step_s < SWINGS_S:
        return onset_s
    burst_db = float(swing[: round(BURST_S / step_s)].max())
    if median(swing) < segment.level_db - SWING_DB and burst_db < segment.level_db - BURST_DB:
        return onset_s
    struck_s = from_s + climbed * step_s
    is_its_own = _is_abrupt(level, climbed, step_s) or _sounds(
        features, segment.midi, struck_s, onset_s
    )
    return struck_s if is_its_own else onset_s


def _is_abrupt(level: Track, place: int, step_s: float) -> bool:
    """Whether a level climbs at once near a place, as a tongue makes it."""
    span, near = round(CLIMBS_S / step_s), round(CLIMBS_NEAR_S / step_s)
    climb_db = level[span:] - level[:-span]
    return bool(climb_db[max(0, place - near) : place + near].max(initial=0.0) >= CLIMBS_DB)


def _above_thumps_db(features: Features, from_s: float, to_s: float) -> Track:
    """The level of what a flute can sound, as smooth as the envelope, shape (steps,)."""
    rate = features.sample_rate_hz
    sections = _above_thumps(rate)
    return filtered_db(features.samples, rate, sections, SETTLES_S, WIDE_S, from_s, to_s)


@cache
def _above_thumps(sample_rate_hz: int) -> NDArray[np.float64]:
    """The filter that leaves them out, shape (sections, 6)."""
    sections = signal.butter(4, THUMPS_HZ, "highpass", fs=sample_rate_hz, output="sos")
    return np.asarray(sections, np.float64)


def _sounds(features: Features, midi: float, from_s: float, to_s: float) -> bool:
    """Whether the harmonics of a pitch stand out of what lies between them."""
    _, levels_db = levels_at(features, midi - OCTAVE, from_s, to_s)
    if levels_db.size == 0 or len(levels_db) < 2:
        return False
    return median(summed_db(levels_db[1::2]) - summed_db(levels_db[::2])) >= TONAL_DB


def _speaks(levels: Envelope, onset_s: float, to_s: float) -> float:
    """Where the tone stands: where its level passes SPEAKS_DB below its first loud part to stay."""
    level = levels.between(levels.wide_db, onset_s, min(to_s, onset_s + SPEAKS_WITHIN_S))
    loudest_db = float(level.max())
    stands = int(np.argmax(level >= loudest_db - ATTACK_END_DB))
    below = np.flatnonzero(level[:stands] < loudest_db - SPEAKS_DB)
    edges = np.array([-1, *below, stands + round(SPOKEN_S / levels.step_s)])
    spoken = int(np.argmax(np.diff(edges) > SPOKEN_S / levels.step_s))
    return onset_s + int(edges[spoken] + 1) * levels.step_s
