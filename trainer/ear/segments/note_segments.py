"""From frames to sounds: stretches of steady pitch, split where the same note starts again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from trainer.ear.analysis.envelope import Envelope
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Frames
from trainer.ear.analysis.order_statistics import median, quantile
from trainer.ear.analysis.pitch_track import PitchTrack
from trainer.ear.analysis.salience import BELOW_LOUDEST_DB, loud_db
from trainer.ear.segments.dips import dips
from trainer.ear.segments.seam_view import seen_at
from trainer.ear.segments.start_network import dip_facts, start_network

JOINED_S = 0.09
"""A sound that ends this close before the next one may be slurred or tongued into it."""
SAME_SOUND_SEMITONES = 0.6
SHORTEST_S = 0.018
"""Shorter stretches are the glide between two fingerings: keys take 10 to 16 ms to move
(Almeida, Chow, Smith & Wolfe 2009, JASA 126:1521)."""
SHORT_S = 0.062
SHORT_CLEAR = 0.955
"""In a room the last note rings into this one, and the two together can look like a third pitch
for a moment: a short sound must be clear to count."""
SHADOW_S = 0.13
SHADOW_SAME_DB, SHADOW_DB = 14.0, 22.0
"""Recorded shadows are 14 to 40 dB softer than the note, at its pitch, its octave or the pitch of
the next; short notes of made runs 12 dB at most, in rooms. Our own measurement."""
LOUD_SHARE = 0.8
GAP_S = 0.045
"""Stretches of one pitch this close are one sound until a new start is found between them."""
CERTAIN = 1.5
"""Log odds at which a sound starts again: hardly one dip in five at these odds is none."""


@dataclass(frozen=True)
class NoteSegment:
    """One stretch of steady pitch."""

    midi: float
    """Median pitch, fractional MIDI number."""
    from_s: float
    to_s: float
    level_db: float
    """Of its loudest part, re full scale."""
    clarity: float = 1.0
    """Median of its frames; two tones of a change-over that ring together are unclear."""

    @property
    def length_s(self) -> float:
        """How long it lasts."""
        return self.to_s - self.from_s


def note_segments(features: Features, course: PitchTrack) -> tuple[NoteSegment, ...]:
    """Every tone in a take, in order; the course says which semitone sounds when."""
    parts = [part for segment in unsplit(features, course) for part in _split(segment, features)]
    return tuple(part for place, part in enumerate(parts) if not _is_shadow(parts, place))


def unsplit(features: Features, course: PitchTrack) -> list[NoteSegment]:
    """The stretches of one pitch, not yet cut where their note starts again."""
    frames = features.frames
    found = [
        _sound(frames, course, first, end)
        for first, end in course.runs()
        if (end - first) * frames.hop_s >= SHORTEST_S
    ]
    softest_db = loud_db(frames) - BELOW_LOUDEST_DB
    return _joined([s for s in found if _counts(s) and s.level_db > softest_db])


def _sound(frames: Frames, course: PitchTrack, first: int, end: int) -> NoteSegment:
    times_s = frames.times_s
    midi = frames.midi[first:end]
    on_it = np.abs(midi - course.midi[first]) < SAME_SOUND_SEMITONES
    return NoteSegment(
        midi=median(midi[on_it]) if on_it.any() else float(course.midi[first]),
        from_s=float(times_s[first]),
        to_s=float(times_s[end - 1] + frames.hop_s),
        level_db=quantile(frames.level_db[first:end], LOUD_SHARE),
        clarity=median(frames.clarity[first:end]),
    )


def _counts(segment: NoteSegment) -> bool:
    return segment.length_s >= SHORT_S or segment.clarity >= SHORT_CLEAR


def _joined(found: list[NoteSegment]) -> list[NoteSegment]:
    """Neighbouring stretches of one pitch become one."""
    joined: list[NoteSegment] = []
    for segment in found:
        last = joined[-1] if joined else None
        if (
            last is not None
            and abs(segment.midi - last.midi) < SAME_SOUND_SEMITONES
            and segment.from_s - last.to_s < GAP_S
        ):
            longer = max(last, segment, key=lambda part: part.length_s)
            joined[-1] = replace(
                longer,
                from_s=last.from_s,
                to_s=segment.to_s,
                level_db=max(last.level_db, segment.level_db),
            )
        else:
            joined.append(segment)
    return joined


def _split(segment: NoteSegment, features: Features) -> list[NoteSegment]:
    """The sound cut wherever it clearly starts again."""
    cuts = [start for start in new_starts(segment, features) if start.log_odds >= CERTAIN]
    if not cuts:
        return [segment]
    edges = [segment.from_s, *(cut.at_s for cut in cuts), segment.to_s]
    return [_part(segment, first, end, features.envelope) for first, end in pairwise(edges)]


def _part(segment: NoteSegment, from_s: float, to_s: float, envelope: Envelope) -> NoteSegment:
    level = envelope.between(envelope.wide_db, from_s, to_s)
    return replace(segment, from_s=from_s, to_s=to_s, level_db=quantile(level, LOUD_SHARE))


def _is_shadow(found: list[NoteSegment], place: int) -> bool:
    """Whether a short sound is so soft beside a louder one that it is no note: between two notes
    the fingers already stand for the next, and breath or keys make the tube sound there, or in the
    octave below, before the tone speaks and after it stops."""
    segment = found[place]
    if segment.length_s >= SHADOW_S:
        return False
    beside = []
    if place > 0:
        beside.append((found[place - 1], segment.from_s - found[place - 1].to_s))
    if place + 1 < len(found):
        beside.append((found[place + 1], found[place + 1].from_s - segment.to_s))
    return any(
        gap_s < JOINED_S and other.level_db - segment.level_db > _shadow_db(segment, other)
        for other, gap_s in beside
    )


def _shadow_db(segment: NoteSegment, other: NoteSegment) -> float:
    """So much softer than the other sound it is a shadow: less will do at its pitch or octave."""
    away = abs(other.midi - segment.midi)
    same = abs(away - 12 * round(away / 12)) < SAME_SOUND_SEMITONES
    return SHADOW_SAME_DB if same else SHADOW_DB


@dataclass(frozen=True)
class Reattack:
    """A place inside a sound where the same note may start again."""

    at_s: float
    """The bottom of the dip."""
    log_odds: float
    """That it does."""


def new_starts(segment: NoteSegment, features: Features) -> list[Reattack]:
    """Where the same note may start again inside a sound, in order of time."""
    found = dips(features.envelope, segment.from_s, segment.to_s)
    if not found:
        return []
    seen = [seen_at(features, dip.at_s, segment.midi, segment.midi) for dip in found]
    facts = [
        dip_facts(dip, segment.midi, dip.at_s - segment.from_s, segment.to_s - dip.at_s)
        for dip in found
    ]
    network = start_network()
    odds = network.new_start_odds(network.looked_at(np.stack(seen), np.stack(facts)))
    return [Reattack(dip.at_s, float(log)) for dip, log in zip(found, odds, strict=True)]


def split_at(segment: NoteSegment, at_s: float) -> tuple[NoteSegment, NoteSegment]:
    """The sound as two of the same pitch."""
    return replace(segment, to_s=at_s), replace(segment, from_s=at_s)


BLIP_S = 0.062
"""False pitches up to some 50 ms come from fingers moving apart (Almeida, Chow, Smith & Wolfe
2009, JASA 126:1521: delays of tens of milliseconds)."""
