"""Tones that are no notes: what the room keeps of a note, and what the flute adds around one.

A room's tail is explained before it is a note: its harmonics never stand higher than what sounded
before them would have left. Around a note the tube may sound an octave lower: before the tone
catches, when the air is let go, between two fingers; and a note whose second or fourth harmonic
swells, or whose fundamental a room takes away for a moment, looks like its own octave.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Frames, Track
from trainer.ear.analysis.order_statistics import median, quantile, slope
from trainer.ear.analysis.tone_level import HOP_S
from trainer.ear.segments.note_segment import (
    BLIP_S,
    JOINED_S,
    SAME_SOUND_SEMITONES,
    NoteSegment,
)
from trainer.ear.segments.own_harmonics import apart_from, levels_at, own_level_db, summed_db

OCTAVE = 12.0
"""Semitones."""
HARMONICS_SEMITONES = 12 * np.log2(np.arange(2, 7))
SHADOW_S = 0.13
SHADOW_OCTAVE_DB, SHADOW_SAME_DB, SHADOW_DB = 9.0, 14.0, 22.0
"""Recorded shadows are 14 to 40 dB softer than the note, at its pitch, its octave or the pitch of
the next, an octave from it sometimes only 10; short notes of made runs 12 dB at most, in rooms. Our
own measurement."""
BESIDE_S = 0.15
"""So much of the neighbours is looked at."""
MUCH_LONGER = 2.0
"""The note is so many times as long as what only looks like its octave."""
NO_SOFTER_DB = 3.0
"""See HEARD_DB."""
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
SURE_OCTAVE_DB = -20.0
"""A sound whose odd harmonics as the octave below stand higher than this may be that octave, its
fundamental taken away by a room: true low notes had down to -15 in rooms of 0.8 s, true high ones
more than -20 in one of ten. Without the first harmonic, where the note before rings near it, 42 low
notes, each dry and in 0.8 s, had no less than about -20 either. Our own measurement, recorded
notes."""
LET_GO_S, NO_LOUDER_DB = 0.13, 1.0
"""See SOFT_HUMP_DB."""
HUMP_DB = 6.0
HUMP_S, SOFT_HUMP_S, SOFT_HUMP_DB = 0.065, 0.125, 6.0
"""Where a player lets the air go, the octave below rises and falls at once: its harmonics stand
within 6 dB of their highest for 30 to 60 ms, or softly for up to 120; those of a short note for 80
and more. Our own measurement on recorded short notes, dry and in rooms; of 47 true slurs and leaps
down an octave none is so short, so little louder and so quickly over."""
SOFTER_DB = 6.0
"""Only what is so much softer than a sound shortly before may be its tail."""
FAINT_DB = 28.0
"""No note is so much softer than one of its own pitch shortly before: from pianissimo to fortissimo
a player has some 20 dB on one pitch."""
TAIL_WITHIN_S = 1.5
"""A room's tail is over after so long."""
LOOK_BACK_S = 1.0
SETTLED_S = 0.02
"""The window of the levels reaches so far into what follows."""
STEEPEST_DB_PER_S = 150.0
"""A room of 0.4 s; what a player's release alone takes away is no law for what follows."""
FALLING_SHARE = 0.5
"""A tail falls as the room does; a soft note stands for a while."""
FEWEST_STEPS = 3
"""Levels that say anything of a fall."""
STRONG_DB = 15.0
RISES_DB = 4.0
"""Of 267 true notes that follow a louder one none rises less above what the room would have left
of it; tails stay below 3 dB. Our own measurement, rooms up to 0.8 s."""
LEAST_OWN_DB = 18.0
"""What sounds between two fingerings has at most this much less for itself than with its
neighbours: six of made flutes, dry and in a room of 0.4 s, 9 to 16 dB; of six that rooms made of
two notes ringing together four had 21 to 39 (our own measurement)."""
UNKNOWN_DECAY_DB_PER_S = 60.0
"""A room of one second, where no note end has been heard yet: common practice, no source."""
PHRASE_REST_S = 0.3
"""A longer rest ends a phrase."""
LOUD_PART_DB = 10.0
"""A sound's loud part: so far below its loudest."""
TONE_CLEAR = 0.83
"""See NEAR_SHARE."""
WANDERS_SEMITONES = 0.9
NEAR_SHARE = 0.5
"""What has no clear period in its loud part (chairs 0.55, a click's ringing 0.80, of 100 recorded
notes 99 at least 0.88), or glides (spoken words; of 100 notes 99 stay within 0.56 of a semitone, a
wide vibrato within 0.8), is no flute, unless a note of its phrase is. Our own measurement."""
ABOVE_NOISE_DB = 6.0
"""What is nearer to the noise is noise."""
NOISE_CLARITY, NOISE_SHARE = 0.3, 0.25
"""Frames less clear than this are noise, and it stands so low among them."""


def settled_octaves(features: Features, found: Sequence[NoteSegment]) -> list[NoteSegment]:
    """The sounds, each that only looks like the octave of a neighbour at the neighbour's pitch."""
    settled = list(found)
    for place, segment in enumerate(found):
        before = settled[place - 1] if place > 0 else None
        after = found[place + 1] if place + 1 < len(found) else None
        lower = _octave_below(segment, before, after)
        if lower and _goes_on(features, lower, segment):
            settled[place] = replace(segment, midi=lower[0].midi)
        elif before is not None and after is not None and _between(before, segment, after):
            settled[place] = replace(segment, midi=before.midi)
        elif (upper := _octave_above(features, segment, before, after)) is not None:
            settled[place] = replace(segment, midi=upper.midi)
    return settled


def _octave_below(
    segment: NoteSegment, before: NoteSegment | None, after: NoteSegment | None
) -> list[NoteSegment]:
    """The sounds beside this one that stand an octave lower; one that follows only where it is no
    softer, as the air let go after a note stands there too."""
    lower = []
    if before is not None and is_octave(before, segment) and apart_s(before, segment) < JOINED_S:
        lower.append(before)
    as_loud = after is not None and (lower or after.level_db > segment.level_db - NO_SOFTER_DB)
    if after is not None and as_loud and is_octave(after, segment):
        return [*lower, after] if apart_s(after, segment) < JOINED_S else lower
    return lower


def _octave_above(
    features: Features,
    segment: NoteSegment,
    before: NoteSegment | None,
    after: NoteSegment | None,
) -> NoteSegment | None:
    """The sound beside this one whose octave below it only seems to be; None for neither."""
    return next((one for one in (before, after) if _is_upper(features, segment, one)), None)


def _between(before: NoteSegment, segment: NoteSegment, after: NoteSegment) -> bool:
    """Whether a note drops to the octave below, or one of its harmonics comes out, for a moment."""
    return (
        segment.length_s < BLIP_S
        and (is_octave(segment, before) or _is_harmonic(before, segment))
        and after.has_pitch_of(before)
        and apart_s(segment, before) < JOINED_S
        and apart_s(segment, after) < JOINED_S
    )


def _is_harmonic(lower: NoteSegment, upper: NoteSegment) -> bool:
    away = np.abs(upper.midi - lower.midi - HARMONICS_SEMITONES)
    return bool((away < SAME_SOUND_SEMITONES).any())


def is_octave(lower: NoteSegment, upper: NoteSegment) -> bool:
    """Whether the upper is the lower one's octave."""
    return abs(upper.midi - lower.midi - OCTAVE) < SAME_SOUND_SEMITONES


def apart_s(one: NoteSegment, other: NoteSegment) -> float:
    """From the end of the earlier to the beginning of the later."""
    return max(one.from_s - other.to_s, other.from_s - one.to_s)


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
        if own.size:
            rises_db = meanwhile_db - np.median(own, axis=1)
            stays = rises_db > -GOES_ON_DB
            if longer and (strong & stays)[0::2].any():
                return True
            nothing_new = one.from_s < upper.from_s and rises_db[1::2].max() < GOES_ON_DB
            if nothing_new and (heard & stays)[0::2].any():
                return True
    return False


def _between_db(features: Features, midi: float, segment: NoteSegment) -> float:
    """The highest level half way between the first harmonics of a pitch while a sound lasts."""
    half = _levels_db(features, midi - OCTAVE, segment.from_s, segment.to_s)
    return float(np.median(half[0::2], axis=1).max())


def _is_upper(features: Features, lower: NoteSegment, beside: NoteSegment | None) -> bool:
    """Whether a sound has hardly anything of its own beside the octave above it, which sounds
    before or after it: then it is that."""
    if beside is None or not is_octave(lower, beside) or apart_s(lower, beside) >= JOINED_S:
        return False
    return is_octave_above(features, lower)


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


def is_two_ringing(
    features: Features, before: NoteSegment, segment: NoteSegment, after: NoteSegment
) -> bool:
    """Whether a sound between two others is those two ringing together, which may have the period
    of a third: what it has for itself is too soft. Of what has nothing for itself it isn't known.
    """
    beside = before.midi, after.midi
    own_db = own_level_db(features, segment.midi, segment.from_s, segment.to_s, beside)
    return own_db is not None and own_db < segment.level_db - LEAST_OWN_DB


def may_be_octave_below(features: Features, segment: NoteSegment) -> bool:
    """Whether a sound may as well be the note an octave below it, by its odd harmonics."""
    odd_db = _odd_db(features, segment.midi - OCTAVE, segment)
    return odd_db is None or odd_db > SURE_OCTAVE_DB


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


def without_spurious(features: Features, found: Sequence[NoteSegment]) -> tuple[NoteSegment, ...]:
    """The sounds that are notes."""
    room = features.room
    falls_db_per_s = UNKNOWN_DECAY_DB_PER_S if room is None else 60.0 / room.decay_s
    falls_db_per_s = min(falls_db_per_s, STEEPEST_DB_PER_S)
    noise_db = _noise_db(features.frames)
    kept: list[NoteSegment] = []
    for place, segment in enumerate(found):
        after = found[place + 1] if place + 1 < len(found) else None
        before = kept[-1] if kept else None
        if (
            segment.level_db < noise_db + ABOVE_NOISE_DB
            or _is_shadow(segment, before, after)
            or _is_release(features, segment, before)
            or _is_tail(features, segment, kept, after, falls_db_per_s)
        ):
            continue
        kept.append(segment)
    return tuple(
        s for phrase in _phrases(kept) if _is_flute(features.frames, phrase) for s in phrase
    )


def _noise_db(frames: Frames) -> float:
    """The level of what is left where nothing has a period; -inf where there is no such moment."""
    toneless = frames.level_db[frames.clarity < NOISE_CLARITY]
    return quantile(toneless, NOISE_SHARE) if toneless.size else -np.inf


def _phrases(found: Sequence[NoteSegment]) -> list[list[NoteSegment]]:
    """Sounds without a rest between them."""
    phrases: list[list[NoteSegment]] = []
    for segment in found:
        if phrases and segment.from_s - phrases[-1][-1].to_s < PHRASE_REST_S:
            phrases[-1].append(segment)
        else:
            phrases.append([segment])
    return phrases


def _is_flute(frames: Frames, phrase: Sequence[NoteSegment]) -> bool:
    """Whether one sound of a phrase at least has a tone's period and stands at its pitch."""
    return any(_is_steady_tone(frames, segment) for segment in phrase)


def _is_steady_tone(frames: Frames, segment: NoteSegment) -> bool:
    stretch = slice(frames.at(segment.from_s), frames.at(segment.to_s) + 1)
    level_db = frames.level_db[stretch]
    loud = level_db > level_db.max() - LOUD_PART_DB
    midi, clarity = frames.midi[stretch][loud], frames.clarity[stretch][loud]
    near = midi[np.abs(midi - segment.midi) < SAME_SOUND_SEMITONES]
    if near.size < NEAR_SHARE * midi.size:
        return False
    wanders = quantile(near, 0.9) - quantile(near, 0.1)
    return median(clarity) >= TONE_CLEAR and wanders <= WANDERS_SEMITONES


def _is_shadow(segment: NoteSegment, before: NoteSegment | None, after: NoteSegment | None) -> bool:
    """Whether a short sound is so soft beside a louder one that it is no note: between two notes
    the fingers already stand for the next, and breath or keys make the tube sound there, or in the
    octave below, before the tone speaks and after it stops."""
    if segment.length_s >= SHADOW_S:
        return False
    return any(
        beside is not None
        and apart_s(segment, beside) < JOINED_S
        and beside.level_db - segment.level_db > _shadow_db(segment, beside)
        for beside in (before, after)
    )


def _shadow_db(segment: NoteSegment, beside: NoteSegment) -> float:
    """So much softer than the other sound it is a shadow: less will do at its pitch, its octave or
    one of its harmonics."""
    if is_octave(segment, beside) or _is_harmonic(beside, segment):
        return SHADOW_OCTAVE_DB
    away = abs(beside.midi - segment.midi)
    same = abs(away - OCTAVE * round(away / OCTAVE)) < SAME_SOUND_SEMITONES
    return SHADOW_SAME_DB if same else SHADOW_DB


def _is_release(features: Features, segment: NoteSegment, before: NoteSegment | None) -> bool:
    """Whether a sound is the octave below a note, rising and falling as its air is let go."""
    if before is None or not is_octave(segment, before) or apart_s(segment, before) >= JOINED_S:
        return False
    if segment.length_s > LET_GO_S or segment.level_db > before.level_db + NO_LOUDER_DB:
        return False
    levels_db = _levels_db(
        features, segment.midi, segment.from_s - JOINED_S / 2, segment.to_s + JOINED_S
    )
    if levels_db.size == 0:
        return False
    odd_db = summed_db(levels_db[0::2])
    soft = segment.level_db < before.level_db - SOFT_HUMP_DB
    return _hump_s(odd_db) <= (SOFT_HUMP_S if soft else HUMP_S)


def _hump_s(level_db: Track) -> float:
    """How long a level stays within HUMP_DB of its highest, about its top."""
    low = level_db <= level_db.max() - HUMP_DB
    top = int(level_db.argmax())
    rising, falling = np.flatnonzero(low[:top]), np.flatnonzero(low[top:])
    first = int(rising[-1]) + 1 if rising.size else 0
    end = top + int(falling[0]) if falling.size else low.size
    return (end - first) * HOP_S


def _is_tail(
    features: Features,
    segment: NoteSegment,
    earlier: Sequence[NoteSegment],
    after: NoteSegment | None,
    falls_db_per_s: float,
) -> bool:
    """Whether a room that falls by so many dB per second explains a sound by what was before."""
    near = [other for other in earlier[-8:] if segment.from_s - other.to_s < TAIL_WITHIN_S]
    softer_db = max((other.level_db - segment.level_db for other in near), default=0.0)
    faint = any(
        other.has_pitch_of(segment) and other.level_db - segment.level_db > FAINT_DB
        for other in near
    )
    return faint or (
        softer_db > SOFTER_DB and _only_rings(features, segment, after, falls_db_per_s)
    )


def _only_rings(
    features: Features, segment: NoteSegment, after: NoteSegment | None, falls_db_per_s: float
) -> bool:
    """Whether a sound's strong harmonics fall with the room and never rise above what is left of
    them from before it; those that a louder sound after it shares tell nothing."""
    times_s, levels_db = levels_at(features, segment.midi, segment.from_s, segment.to_s)
    own = np.ones(len(levels_db), bool)
    rises = after is not None and after.level_db > segment.level_db
    if after is not None and rises and apart_s(segment, after) < JOINED_S:
        own = apart_from(features.tuning, segment.midi, after.midi, len(levels_db))
    if times_s.size < FEWEST_STEPS or not own.any():
        return False
    own_db = levels_db[own]
    strongest_db = own_db[own_db.max(axis=1).argmax()]
    if -slope(strongest_db, HOP_S) <= FALLING_SHARE * falls_db_per_s:
        return False
    before_s, before_db = levels_at(
        features, segment.midi, segment.from_s - LOOK_BACK_S, segment.from_s - SETTLED_S
    )
    if before_s.size == 0:
        return False
    strong = own_db.max(axis=1) > own_db.max() - STRONG_DB
    since_db = (before_db[own] + falls_db_per_s * before_s).max(axis=1)
    left_db = since_db[:, None] - falls_db_per_s * times_s[None, :]
    return float((own_db - left_db)[strong].max()) < RISES_DB
