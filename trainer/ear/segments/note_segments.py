"""From frames to sounds: stretches of steady pitch, split where the same note starts again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy import ndimage

from trainer.ear.analysis.envelope import Envelope
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Frames
from trainer.ear.analysis.order_statistics import median, quantile
from trainer.ear.analysis.pitch_track import PitchTrack
from trainer.ear.analysis.salience import BELOW_LOUDEST_DB, loud_db
from trainer.ear.segments.note_segment import JOINED_S, SAME_SOUND_SEMITONES, NoteSegment
from trainer.ear.segments.spurious_tones import settled_octaves, without_spurious

SHORTEST_S = 0.018
"""Shorter stretches are the glide between two fingerings: keys take 10 to 16 ms to move
(Almeida, Chow, Smith & Wolfe 2009, JASA 126:1521)."""
SHORT_S = 0.062
SHORT_CLEAR = 0.955
"""In a room the last note rings into this one, and the two together can look like a third pitch
for a moment: a short sound must be clear to count."""
LOUD_SHARE = 0.8
GAP_S = 0.045
GAP_DB = 12.0
"""Stretches of one pitch this close are one sound until a new start is found between them; twice as
far apart too where the level meanwhile falls by less than this, the most that a held note beats in
a room (10 dB, vibrato of 5 cents at 0.6 s)."""
NEW_START_DIP_DB = 2.0
DIP_WEIGHS, CLIMB_WEIGHS, HUSH_WEIGHS, PEAK_WEIGHS = 0.08, 0.32, 0.13, 0.13
AGAINST_NEW_START = 1.64
"""Log odds per dB that a dip is a new start of the same note (logistic regression on made takes in
rooms, where the level beats by 5 to 12 dB of itself). A room rings little in the high band, so
what the breath's noise does there tells more than the dip."""
CERTAIN = 1.5
"""At these odds, and the dips' own small number, hardly one in a hundred is none."""
DEEP_DIP_DB = 9.0
SURE_CLIMB_DB = 8.0
USUAL_CLIMB_DB = 3.0
"""Recorded notes swell and their breath is unsteady: to count, the dip must be deep as well, or
less deep with a consonant's climb, each as a share of what is enough alone."""
MOST_CLIMB_DB, MOST_PEAK_DB, LEAST_PEAK_DB = 20.0, 15.0, -8.0
CLIMB_STEPS = 4
HUSH_S, PEAK_S = (-0.03, 0.02), (-0.005, 0.03)
NEW_START_APART_S = 0.055


def note_segments(features: Features, course: PitchTrack) -> tuple[NoteSegment, ...]:
    """Every tone in a take, in order; the course says which semitone sounds when."""
    frames, envelope = features.frames, features.envelope
    found = [
        _sound(frames, course, first, end)
        for first, end in course.runs()
        if (end - first) * frames.hop_s >= SHORTEST_S
    ]
    softest_db = loud_db(frames) - BELOW_LOUDEST_DB
    joined = _joined(
        [s for s in found if _counts(s) and s.level_db > softest_db], features.envelope
    )
    settled = _joined(settled_octaves(features, joined), envelope)
    parts = [part for segment in settled for part in _split(segment, envelope)]
    return without_spurious(features, parts)


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


def _joined(found: Sequence[NoteSegment], envelope: Envelope) -> list[NoteSegment]:
    """Neighbouring stretches of one pitch become one."""
    joined: list[NoteSegment] = []
    for segment in found:
        last = joined[-1] if joined else None
        if (
            last is not None
            and abs(segment.midi - last.midi) < SAME_SOUND_SEMITONES
            and _stays(last, segment, envelope)
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


def _stays(last: NoteSegment, segment: NoteSegment, envelope: Envelope) -> bool:
    """Whether a sound goes on from one stretch to the next, as far as its level tells."""
    gap_s = segment.from_s - last.to_s
    if gap_s < GAP_S:
        return True
    level_db = envelope.between(envelope.wide_db, last.to_s, segment.from_s).min()
    return gap_s < JOINED_S and level_db > min(last.level_db, segment.level_db) - GAP_DB


def _split(segment: NoteSegment, envelope: Envelope) -> list[NoteSegment]:
    """The sound cut wherever it clearly starts again."""
    cuts = [s for s in new_starts(segment, envelope) if s.log_odds >= CERTAIN and s.plain]
    if not cuts:
        return [segment]
    edges = [segment.from_s, *(cut.at_s for cut in cuts), segment.to_s]
    return [_part(segment, first, end, envelope) for first, end in pairwise(edges)]


def _part(segment: NoteSegment, from_s: float, to_s: float, envelope: Envelope) -> NoteSegment:
    level = envelope.between(envelope.wide_db, from_s, to_s)
    return replace(segment, from_s=from_s, to_s=to_s, level_db=quantile(level, LOUD_SHARE))


@dataclass(frozen=True)
class Reattack:
    """A place inside a sound where the same note may start again."""

    at_s: float
    """The bottom of the dip."""
    log_odds: float
    """That it does."""
    plain: bool
    """Whether the dip is deep, or less deep with a consonant."""


def new_starts(segment: NoteSegment, envelope: Envelope) -> list[Reattack]:
    """Dips of the envelope inside a sound, in order of time."""
    level = envelope.between(envelope.wide_db, segment.from_s, segment.to_s)
    reach = round(NEW_START_APART_S / envelope.step_s)
    if level.size < 3 * reach:
        return []
    lowest = ndimage.minimum_filter1d(level, min(level.size, 2 * reach + 1))
    found: list[Reattack] = []
    for place in np.flatnonzero(level == lowest):
        if place < reach or place > level.size - reach:
            continue
        before = level[max(0, place - 2 * reach) : place].max()
        after = level[place : place + 2 * reach].max()
        dip_db = float(min(before, after) - level[place])
        at_s = segment.from_s + float(place) * envelope.step_s
        if dip_db < NEW_START_DIP_DB or (found and at_s - found[-1].at_s < NEW_START_APART_S):
            continue
        stroke_db = max(0.0, climb_db(envelope, at_s) - USUAL_CLIMB_DB)
        plain = dip_db / DEEP_DIP_DB + stroke_db / SURE_CLIMB_DB >= 1.0
        found.append(Reattack(at_s, _log_odds(segment, envelope, at_s, dip_db), plain))
    return found


def _log_odds(segment: NoteSegment, envelope: Envelope, at_s: float, dip_db: float) -> float:
    high = envelope.high_db
    around = (
        envelope.between(high, segment.from_s, at_s),
        envelope.between(high, at_s, segment.to_s),
    )
    side_db = min(median(part) for part in around)
    valley = envelope.between(high, at_s + HUSH_S[0], at_s + HUSH_S[1])
    peak = envelope.between(high, at_s + PEAK_S[0], at_s + PEAK_S[1])
    return (
        DIP_WEIGHS * dip_db
        + CLIMB_WEIGHS * min(climb_db(envelope, at_s), MOST_CLIMB_DB)
        + HUSH_WEIGHS * (side_db - float(valley.min()))
        + PEAK_WEIGHS * min(max(float(peak.max()) - side_db, LEAST_PEAK_DB), MOST_PEAK_DB)
        - AGAINST_NEW_START
    )


def split_at(segment: NoteSegment, at_s: float) -> tuple[NoteSegment, NoteSegment]:
    """The sound as two of the same pitch."""
    return replace(segment, to_s=at_s), replace(segment, from_s=at_s)


def climb_db(envelope: Envelope, at_s: float) -> float:
    """The steepest climb of the high band within 4 ms near a dip, in dB."""
    near = envelope.between(envelope.high_db, at_s - 0.015, at_s + 0.03)
    return float((near[CLIMB_STEPS:] - near[:-CLIMB_STEPS]).max()) if near.size > 8 else 0.0
