"""Whether a sound is its note, or the octave of it.

A note whose second or fourth harmonic swells, or whose fundamental a room takes away for a moment,
looks like its own octave; one into which the note before still rings may look like the octave below
it. The odd harmonics of the lower note tell them apart: only that has them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Track
from trainer.ear.analysis.order_statistics import median
from trainer.ear.segments.note_segment import BLIP_S, OCTAVE, NoteSegment
from trainer.ear.segments.own_harmonics import apart_from, levels_at, summed_db

BESIDE_S = 0.15
"""So much of the neighbours is looked at."""
MUCH_LONGER = 2.0
"""The note is so many times as long as what only looks like its octave."""
GOES_ON_DB = 3.5
HEARD_DB = 20.0
"""Where a note goes on while its octave seems to sound, one of its odd harmonics at least stays
within 3 dB, though a room may swallow another; all fall by 4 dB or more where it has really been
left, in rooms of two seconds too. Our own measurement; harmonics more than HEARD_DB below the
strongest may be noise."""
CLEAR_DB = 10.0
"""So far above what stands between the harmonics one is heard, however soft."""
LEAST_ODD_DB = -12.0
"""Odd harmonics of true notes against the even ones, dry and in rooms, from C#4 up: of 1,660 tenths
of a second in recorded notes 11 have less. Our own measurement."""
SPEAKS_FIRST_S, SPEAKS_FIRST_DB = 0.1, -8.0
"""Where a note begins an octave low for 55 to 85 ms, the loudest of the lower note's first and
third harmonics stands 11 dB and more below the loudest of its second and fourth (4 of 300 held
notes in 0.8 s); of 102 low notes of 0.07 to 0.2 s that a player goes an octave up from, in rooms of
0.7 and 0.8 s, those heard for so short had no less than -6, longer ones down to -11. Our own
measurement, recorded notes."""
SURE_OCTAVE_DB = -20.0
"""A sound whose odd harmonics as the octave below stand higher than this may be that octave, its
fundamental taken away by a room: true low notes had down to -15 in rooms of 0.8 s, true high ones
more than -20 in one of ten. Without the first harmonic, where the note before rings near it, 42 low
notes, each dry and in 0.8 s, had no less than about -20 either. Our own measurement, recorded
notes."""

SEEMS_LOWER_DB = -4.0
"""Odd harmonics this far below the even ones may be what lies under the note an octave above: under
sampled piccolos' notes they lie 20 dB down, and rooms brought them up to 3 to 11 dB below the even
ones (8 notes, 7 of them less than this); notes really played an octave low in rooms of 0.4 and
0.8 s had no less than -3.2 (44 recorded ones, B4 and up asked). Our own measurement."""
ON_THEIR_OCTAVE_MIDI = 65.5
"""Up to F4 a flute's notes may stand on their second harmonic (SHARC archive, G. Sandell), and tell
nothing by that."""


def settled_octaves(features: Features, found: Sequence[NoteSegment]) -> list[NoteSegment]:
    """The sounds, each that only looks like the octave of a neighbour at the neighbour's pitch."""
    settled = list(found)
    for place, segment in enumerate(found):
        before = settled[place - 1] if place > 0 else None
        after = found[place + 1] if place + 1 < len(found) else None
        joined = [one for one in (before, after) if one is not None and one.is_joined_to(segment)]
        lower = [one for one in joined if one.is_octave_below(segment)]
        upper = [one for one in joined if segment.is_octave_below(one)]
        if lower and _goes_on(features, lower, segment):
            settled[place] = replace(segment, midi=lower[0].midi)
        elif before is not None and after is not None and _breaks(before, segment, after):
            settled[place] = replace(segment, midi=before.midi)
        elif upper and (
            is_octave_above(features, segment) or _speaks_first(features, segment, joined)
        ):
            settled[place] = replace(segment, midi=upper[0].midi)
    return settled


def _goes_on(features: Features, lower: Sequence[NoteSegment], upper: NoteSegment) -> bool:
    """Whether the odd harmonics of the lower note beside it sound on while its octave seems to: a
    strong one where the note is much longer than that, any that is heard where it was there before
    and nothing of the octave's own has grown."""
    meanwhile = _levels_db(features, lower[0].midi, upper.from_s, upper.to_s)
    if meanwhile.size == 0:
        return False
    meanwhile_db = np.median(meanwhile, axis=1)
    strong = meanwhile_db > meanwhile_db.max() - HEARD_DB
    heard = strong | (meanwhile_db > _between_db(features, lower[0].midi, upper) + CLEAR_DB)
    longer = sum(one.length_s for one in lower) >= MUCH_LONGER * upper.length_s
    for one in lower:
        from_s, to_s = (
            max(one.from_s, upper.from_s - BESIDE_S),
            min(one.to_s, upper.to_s + BESIDE_S),
        )
        own = _levels_db(features, one.midi, from_s, to_s)
        both = min(len(meanwhile_db), len(own))  # the higher pitch may have one harmonic less
        if own.size:
            rises_db = meanwhile_db[:both] - np.median(own, axis=1)[:both]
            stays = rises_db > -GOES_ON_DB
            if longer and (strong[:both] & stays)[0::2].any():
                return True
            nothing_new = one.from_s < upper.from_s and rises_db[1::2].max() < GOES_ON_DB
            if nothing_new and (heard[:both] & stays)[0::2].any():
                return True
    return False


def _between_db(features: Features, midi: float, segment: NoteSegment) -> float:
    """The highest level half way between the first harmonics of a pitch while a sound lasts."""
    half = _levels_db(features, midi - OCTAVE, segment.from_s, segment.to_s)
    return float(np.median(half[0::2], axis=1).max())


def _breaks(before: NoteSegment, segment: NoteSegment, after: NoteSegment) -> bool:
    """Whether a note drops to the octave below, or one of its harmonics comes out, for a moment."""
    return (
        segment.length_s < BLIP_S
        and (segment.is_octave_below(before) or segment.is_harmonic_of(before))
        and after.has_pitch_of(before)
        and segment.is_joined_to(before)
        and segment.is_joined_to(after)
    )


def is_octave_above(
    features: Features, segment: NoteSegment, before: NoteSegment | None = None
) -> bool:
    """Whether a sound has so little beside its even harmonics that it is the note an octave above:
    with `before` ringing into it the two together may have the period of the lower one."""
    odd_db = _odd_db(features, segment.midi, segment)
    if odd_db is not None and odd_db < LEAST_ODD_DB:
        return True
    if before is None or _has_grown(features, segment, before):
        return False
    own_db = _odd_db(features, segment.midi, segment, before)
    return own_db is not None and own_db < SURE_OCTAVE_DB


def _speaks_first(features: Features, segment: NoteSegment, joined: Sequence[NoteSegment]) -> bool:
    """Whether a sound out of silence is the beginning of the note an octave above it, the only one
    it is joined to: while that rises a room brings out what little lies an octave under it."""
    if len(joined) > 1 or joined[0].from_s < segment.from_s or segment.length_s > SPEAKS_FIRST_S:
        return False
    levels_db = _levels_db(features, segment.midi, segment.from_s, segment.to_s)[:4]
    loudest_db = levels_db.max(axis=1, initial=-np.inf)
    odd_db, even_db = loudest_db[0::2].max(initial=-np.inf), loudest_db[1::2].max(initial=-np.inf)
    return bool(odd_db < even_db + SPEAKS_FIRST_DB)


def _has_grown(features: Features, segment: NoteSegment, before: NoteSegment) -> bool:
    """Whether the strongest odd harmonic of a sound is louder than it was while the sound before
    lasted: nothing that rings grows."""
    from_s = max(before.from_s, before.to_s - BESIDE_S)
    earlier = _levels_db(features, segment.midi, from_s, before.to_s)[0::2]
    odd = _levels_db(features, segment.midi, segment.from_s, segment.to_s)[0::2]
    if not earlier.size or not odd.size:
        return False
    odd_db = np.median(odd, axis=1)
    strongest = int(odd_db.argmax())
    return bool(odd_db[strongest] > median(earlier[strongest]))


def may_be_octave_below(features: Features, segment: NoteSegment) -> bool:
    """Whether a sound may as well be the note an octave below it, by its odd harmonics."""
    odd_db = _odd_db(features, segment.midi - OCTAVE, segment)
    return odd_db is None or odd_db > SURE_OCTAVE_DB


def may_only_seem_lower(features: Features, segment: NoteSegment) -> bool:
    """Whether a sound may be the note an octave above, of which a room takes the fundamental away
    and brings out what little lies an octave under it."""
    if segment.midi < ON_THEIR_OCTAVE_MIDI:
        return False
    odd_db = _odd_db(features, segment.midi, segment)
    return odd_db is None or odd_db < SEEMS_LOWER_DB


def may_be_octave_above(features: Features, segment: NoteSegment) -> bool:
    """Whether a sound may as well be the note an octave above it with the tube's own octave under
    it: what it has of its own is softer than what both would have."""
    odd_db = _odd_db(features, segment.midi, segment)
    return odd_db is None or odd_db < 0.0


def _odd_db(
    features: Features, midi: float, segment: NoteSegment, beside: NoteSegment | None = None
) -> float | None:
    """Odd harmonics of a pitch against the even ones while a sound lasts; of another sound beside
    it those don't count that come near its own. None where it is too short to tell."""
    levels_db = _levels_db(features, midi, segment.from_s, segment.to_s)
    odd = levels_db[0::2]
    if beside is not None:
        odd = odd[apart_from(features.tuning, midi, beside.midi, len(levels_db))[0::2]]
    if odd.size == 0:
        return None
    return median(summed_db(odd) - summed_db(levels_db[1::2]))


def _levels_db(features: Features, midi: float, from_s: float, to_s: float) -> Track:
    """Levels of the harmonics of a pitch, shape (harmonics, steps)."""
    return levels_at(features, midi, from_s, to_s)[1]
