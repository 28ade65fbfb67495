"""Tones that are no notes: tails, and what the flute adds around a note.

Around a note the tube may sound an octave lower: before the tone catches, when the air is let go,
between two fingers.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Frames, Track
from trainer.ear.analysis.order_statistics import median, quantile
from trainer.ear.analysis.tone_level import HOP_S
from trainer.ear.segments.note_segment import (
    JOINED_S,
    OCTAVE,
    SAME_SOUND_SEMITONES,
    NoteSegment,
)
from trainer.ear.segments.own_harmonics import levels_at, summed_db
from trainer.ear.segments.room_tails import is_tail

SHADOW_S = 0.13
SHADOW_OCTAVE_DB, SHADOW_SAME_DB, SHADOW_DB = 9.0, 14.0, 22.0
"""Recorded shadows are 14 to 40 dB softer than the note, at its pitch, its octave or the pitch of
the next, an octave from it sometimes only 10; short notes of made runs 12 dB at most, in rooms. Our
own measurement."""
LET_GO_S, NO_LOUDER_DB = 0.13, 1.0
"""See SOFT_HUMP_DB."""
HUMP_DB = 6.0
HUMP_S, SOFT_HUMP_S, SOFT_HUMP_DB = 0.065, 0.125, 6.0
"""Where a player lets the air go, the octave below rises and falls at once: its harmonics stand
within 6 dB of their highest for 30 to 60 ms, or softly for up to 120; those of a short note for 80
and more. Our own measurement on recorded short notes, dry and in rooms; of 47 true slurs and leaps
down an octave none is so short, so little louder and so quickly over."""
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


def without_spurious(features: Features, found: Sequence[NoteSegment]) -> tuple[NoteSegment, ...]:
    """The sounds that are notes."""
    kept: list[NoteSegment] = []
    for place, segment in enumerate(found):
        after = found[place + 1] if place + 1 < len(found) else None
        before = kept[-1] if kept else None
        if (
            _is_shadow(segment, before, after)
            or _is_release(features, segment, before)
            or is_tail(features, segment, kept, after)
        ):
            continue
        kept.append(segment)
    return tuple(
        s for phrase in _phrases(kept) if _is_flute(features.frames, phrase) for s in phrase
    )


def _is_shadow(segment: NoteSegment, before: NoteSegment | None, after: NoteSegment | None) -> bool:
    """Whether a short sound is so soft beside a louder one that it is no note: between two notes
    the fingers already stand for the next, and breath or keys make the tube sound there, or in the
    octave below, before the tone speaks and after it stops."""
    if segment.length_s >= SHADOW_S:
        return False
    louder = [
        beside
        for beside in (before, after)
        if beside is not None and beside.level_db - segment.level_db > SHADOW_OCTAVE_DB
    ]
    return any(
        segment.is_joined_to(beside)
        and beside.level_db - segment.level_db > _shadow_db(segment, beside)
        for beside in louder
    )


def _shadow_db(segment: NoteSegment, beside: NoteSegment) -> float:
    """So much softer than the other sound it is a shadow: less will do at its pitch, its octave or
    one of its harmonics."""
    if segment.is_octave_below(beside) or segment.is_harmonic_of(beside):
        return SHADOW_OCTAVE_DB
    away = abs(beside.midi - segment.midi)
    same = abs(away - OCTAVE * round(away / OCTAVE)) < SAME_SOUND_SEMITONES
    return SHADOW_SAME_DB if same else SHADOW_DB


def _is_release(features: Features, segment: NoteSegment, before: NoteSegment | None) -> bool:
    """Whether a sound is the octave below a note, rising and falling as its air is let go."""
    if before is None or not segment.is_octave_below(before) or not segment.is_joined_to(before):
        return False
    if segment.length_s > LET_GO_S or segment.level_db > before.level_db + NO_LOUDER_DB:
        return False
    from_s, to_s = segment.from_s - JOINED_S / 2, segment.to_s + JOINED_S
    _, levels_db = levels_at(features, segment.midi, from_s, to_s)
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
