"""From frames to sounds: stretches of steady pitch, split where the same note starts again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, zip_longest

import numpy as np

from trainer.ear.analysis.envelope import Envelope
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Frames, Track
from trainer.ear.analysis.order_statistics import median, quantile
from trainer.ear.analysis.pitch_track import PitchTrack
from trainer.ear.analysis.salience import BELOW_LOUDEST_DB, loud_db
from trainer.ear.segments.note_or_octave import settled_octaves
from trainer.ear.segments.note_segment import JOINED_S, SAME_SOUND_SEMITONES, NoteSegment
from trainer.ear.segments.own_harmonics import LEAST_RISE_DB, rise_db
from trainer.ear.segments.reattacks import has_dip, new_starts
from trainer.ear.segments.spurious_tones import without_spurious

SHORTEST_S = 0.018
"""Shorter stretches are the glide between two fingerings: keys take 10 to 16 ms to move
(Almeida, Chow, Smith & Wolfe 2009, JASA 126:1521)."""
SHORT_S = 0.062
SHORT_CLEAR = 0.955
"""In a room the last note rings into this one, and the two together can look like a third pitch
for a moment: a short sound must be clear to count, or have harmonics of its own that rise far, as
56 of 100 ornaments' notes do and 4 of 298 others, in tunes in halls (our own measurement, recorded
notes and a SoundFont's)."""
WITHIN_SEMITONES = 0.5
"""Of the semitone the course is on."""
APART_SEMITONES = 0.45
"""The pitch of one note sways less: of 192 places where one recorded note that stands 35 to 50
cents off, vibrato and all, crosses over to a half-step, none dry, in 0.4 or 0.8 s has its two sides
so far apart (our own measurement) ..."""
ON_IT_SEMITONES = 0.3
ON_IT_SHARE = 0.15
"""... and two have so much of either side so near to its own note. Of 102 places where a half-step
was played that a room brought as near together, 82 have the one or the other."""
LOUD_SHARE = 0.8
"""A sound's level is that of its loudest fifth."""
GAP_S = 0.045
GAP_DB = 12.0
"""Stretches of one pitch this close are one sound until a new start is found between them; twice as
far apart too where the level meanwhile falls by less than this, the most that a held note beats in
a room (10 dB, vibrato of 5 cents at 0.6 s)."""


@dataclass(frozen=True)
class Counts:
    """What is held likely before a sound is heard, as counts of a Beta distribution."""

    again: float
    not_again: float

    @property
    def log_odds(self) -> float:
        """Of a new start at one place, before anything is heard."""
        return float(np.log(self.again / self.not_again))


UNASKED = Counts(again=0.2, not_again=1.0)
"""How often a likely place is a new start before anything else is known of a sound, as counts of a
Beta distribution: one in six, worth hardly more than one place that was looked at. Our own
estimate."""
BOTTOM_S = 0.02
"""About a stroke the quietest moment is looked for."""
LIKELY = 0.5
"""Of the chances: likelier than not."""
ROUNDS = 20
"""Chances of a sound's places settle within fewer."""
SETTLED_S = 0.3
"""Sounds that ended so long ago seldom change any more, and all that they are cut by is heard."""


NONE_ASKED: frozenset[int] = frozenset()
Parts = dict[NoteSegment, tuple[NoteSegment, ...]]
"""Of stretches of one pitch the sounds in them."""


def note_segments(
    features: Features,
    course: PitchTrack,
    half_steps: frozenset[int] = NONE_ASKED,
    parts: Parts | None = None,
) -> tuple[NoteSegment, ...]:
    """Every tone in a take, in order; the course says which semitone sounds when, and each is cut
    where its note starts again. half_steps: as for `unsplit`; parts: of the stretches looked at
    before, to which these are added, but for those that ended just now; none where none are given.
    """
    known: Parts = {} if parts is None else parts
    settled_s = features.samples.size / features.sample_rate_hz - SETTLED_S
    found: list[NoteSegment] = []
    for segment in unsplit(features, course, half_steps):
        own = known.get(segment) or tuple(_split(segment, features))
        if segment.to_s < settled_s:
            known[segment] = own
        found += own
    return without_spurious(features, found)


def unsplit(
    features: Features, course: PitchTrack, half_steps: frozenset[int] = NONE_ASKED
) -> list[NoteSegment]:
    """The stretches of one pitch, not yet cut where their note starts again. half_steps: those
    asked for, as MIDI numbers of their lower notes: none is taken for one note that sways."""
    frames = features.frames
    found = [
        _sound(frames, course, first, end)
        for first, end in course.runs()
        if (end - first) * frames.hop_s >= SHORTEST_S
    ]
    softest_db = loud_db(frames) - BELOW_LOUDEST_DB
    loud: list[NoteSegment] = []
    for one, after in zip_longest(found, found[1:]):
        counts = not is_short(one) or (
            after is not None and loud and _rises(features, loud[-1], one, after)
        )
        if one.level_db > softest_db and counts:
            loud.append(one)
    joined = _joined(features, loud, half_steps)
    return _joined(features, settled_octaves(features, joined), half_steps)


def _sound(frames: Frames, course: PitchTrack, first: int, end: int) -> NoteSegment:
    midi = frames.midi[first:end]
    on_it = np.abs(midi - course.midi[first]) < WITHIN_SEMITONES
    return NoteSegment(
        midi=median(midi[on_it]) if on_it.any() else float(course.midi[first]),
        from_s=frames.time_s(first),
        to_s=frames.time_s(end - 1) + frames.hop_s,
        level_db=quantile(frames.level_db[first:end], LOUD_SHARE),
        clarity=median(frames.clarity[first:end]),
    )


def _rises(
    features: Features, before: NoteSegment, segment: NoteSegment, after: NoteSegment
) -> bool:
    """Whether a stretch between two that it touches has harmonics that rise by themselves."""
    if not (segment.is_joined_to(before) and segment.is_joined_to(after)):
        return False
    return rise_db(features, segment, (before.midi, after.midi)) >= LEAST_RISE_DB


def is_short(segment: NoteSegment) -> bool:
    """Whether a stretch is so short that it counts only where more speaks for it, and unclear."""
    return segment.length_s < SHORT_S and segment.clarity < SHORT_CLEAR


def _joined(
    features: Features, found: Sequence[NoteSegment], half_steps: frozenset[int]
) -> list[NoteSegment]:
    """Neighbouring stretches of one pitch become one."""
    joined: list[NoteSegment] = []
    for segment in found:
        last = joined[-1] if joined else None
        if (
            last is not None
            and goes_on(last, segment, features.envelope)
            and not is_half_step(features, last, segment, half_steps)
        ):
            joined[-1] = as_one(last, segment)
        else:
            joined.append(segment)
    return joined


def is_half_step(
    features: Features, last: NoteSegment, segment: NoteSegment, half_steps: frozenset[int]
) -> bool:
    """Whether two sounds stand on the two notes of one of these half-steps. Where a room mixes
    these, what is measured of them comes nearer together than the pitch of a note that sways: then
    each must be near its own note for a while, as one note between the two never is near both."""
    shift = features.semitones[0] - np.round(features.semitones[0])
    lower, upper = sorted(round(one.midi - shift) for one in (last, segment))
    if upper != lower + 1 or lower not in half_steps:
        return False
    return abs(segment.midi - last.midi) > APART_SEMITONES or all(
        _share_on(features.frames, one, round(one.midi - shift) + shift) > ON_IT_SHARE
        for one in (last, segment)
    )


def _share_on(frames: Frames, segment: NoteSegment, midi: float) -> float:
    """How much of a sound is near a pitch."""
    inside = frames.part(frames.at(segment.from_s), frames.at(segment.to_s))
    return float(np.mean(np.abs(inside.midi - midi) < ON_IT_SEMITONES))


def as_one(last: NoteSegment, segment: NoteSegment) -> NoteSegment:
    """Two stretches as one."""
    return replace(
        max(last, segment, key=lambda part: part.length_s),
        from_s=last.from_s,
        to_s=segment.to_s,
        level_db=max(last.level_db, segment.level_db),
        again_s=last.again_s,
    )


def goes_on(last: NoteSegment, segment: NoteSegment, envelope: Envelope) -> bool:
    """Whether a sound goes on from one stretch to the next, as far as pitch and level tell."""
    if not segment.has_pitch_of(last):
        return False
    gap_s = segment.from_s - last.to_s
    if gap_s < GAP_S:
        return True
    level_db = envelope.between(envelope.wide_db, last.to_s, segment.from_s).min()
    return gap_s < JOINED_S and level_db > min(last.level_db, segment.level_db) - GAP_DB


def _split(segment: NoteSegment, features: Features) -> list[NoteSegment]:
    """The sound cut wherever it likely starts again."""
    if not has_dip(segment, features.envelope):
        return [segment]
    found = new_starts(segment, features)
    if not found:
        return [segment]
    chances = again_chances(np.array([start.log_odds for start in found]), UNASKED)
    cuts = [start for start, chance in zip(found, chances, strict=True) if chance > LIKELY]
    return split_at(segment, [cut.at_s for cut in cuts], features)


def split_at(
    segment: NoteSegment, places_s: Sequence[float], features: Features
) -> list[NoteSegment]:
    """The sound cut where its note starts again, at times in their order: each part begins at the
    quietest moment near one, and is measured by itself, so that it is the same however long the
    sound goes on."""
    if not places_s:
        return [segment]
    envelope = features.envelope
    edges = [segment.from_s, *(_bottom_s(envelope, at_s) for at_s in places_s), segment.to_s]
    parts = [stretch_of(segment, first, end, features) for first, end in pairwise(edges)]
    starts_s = [segment.again_s, *places_s]
    return [replace(part, again_s=at_s) for part, at_s in zip(parts, starts_s, strict=True)]


def _bottom_s(envelope: Envelope, at_s: float) -> float:
    """The quietest moment near a time."""
    level = envelope.between(envelope.wide_db, at_s - BOTTOM_S, at_s + BOTTOM_S)
    place = envelope.at(at_s - BOTTOM_S) + envelope.first + int(level.argmin())
    return place * envelope.step_s


def again_chances(log_odds: Track, before: Counts) -> Track:
    """Chance of each place in one sound that the note starts again there, from how each looks (log
    odds, even before) and how often the others start again: a note that was struck again several
    times is likely struck once more, one that dips again and again without a stroke is held.

    A classifier's chances are brought to a new share of each class by iterating (Saerens, Latinne &
    Decaestecker 2002, 'Adjusting the outputs of a classifier to new a priori probabilities', Neural
    Computation 14:21); the share is that of the other places, so that none bears itself out.

    Both have the shape (places,).
    """
    counted = before.again + before.not_again
    share = np.full(log_odds.size, before.again / counted)
    chances = np.zeros(log_odds.size)
    for _ in range(ROUNDS):
        earlier, chances = chances, 1 / (1 + np.exp(-log_odds) * (1 - share) / share)
        if (chances == earlier).all():
            break
        share = (before.again + chances.sum() - chances) / (counted + log_odds.size - 1)
    return chances


def stretch_of(segment: NoteSegment, from_s: float, to_s: float, features: Features) -> NoteSegment:
    """What sounds of a sound's pitch between two times, measured by itself."""
    frames, envelope = features.frames, features.envelope
    first = frames.at(from_s)
    inside = frames.part(first, max(first + 1, frames.at(to_s)))
    on_it = np.abs(inside.midi - segment.midi) < SAME_SOUND_SEMITONES
    return replace(
        segment,
        midi=median(inside.midi[on_it]) if on_it.any() else segment.midi,
        from_s=from_s,
        to_s=to_s,
        level_db=quantile(envelope.between(envelope.wide_db, from_s, to_s), LOUD_SHARE),
        clarity=median(inside.clarity),
    )
