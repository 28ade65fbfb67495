"""Everything measured for the sounds of a take: how each starts, when it ends, how high it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np

from trainer.ear.analysis.envelope import Envelope, tone_stops
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.note_pitch import NotePitch, note_pitch, steady_part
from trainer.ear.analysis.order_statistics import quantile
from trainer.ear.heard import LEAST_OF_PULSES, HeardNote, State
from trainer.ear.segments.gap import UNKNOWN, Gap, gap
from trainer.ear.segments.note_segment import BLIP_S, JOINED_S, NoteSegment
from trainer.ear.segments.note_start import HeardStart, heard_starts
from trainer.ear.segments.stroke_place import ATTACK_END_DB, CLEAR_TONE, stroke_place
from trainer.ear.segments.tone_change import Side
from trainer.ear.segments.transition import Transition, transition
from trainer.music.note import Start
from trainer.music.tuning import Tuning

RINGS_S = 0.3
"""A note that stopped longer ago rings no more."""
BREATH_FROM_S = 0.15
"""A shorter silence is no breath."""
LOUD_DB = 6.0
"""Of a sound after which nothing follows, what is no softer than its loudest by more than this
counts for its level: the room's tail is no part of it. Of eight lines of recorded notes in a room
of 0.7 s the last note stood 3.3 dB below where it stood dry (the others' median taken out), now 0.2
above; from 4 to 8 dB the same (our own measurement). Half the amplitude."""
AGREED_SEMITONES = 0.4
"""Harmonics and course of a sound this far apart: others ring into it. So are 137 of 4,141 recorded
notes, none of them dry, most in halls; 18 of them are off by more than 25 cents, of the others 23,
and of those between 0.2 and 0.4 no more than of the rest (our own measurement, two seeds)."""


@dataclass(frozen=True)
class NoteStart:
    """Where one sound starts."""

    kind: Start
    """How it most likely starts, sure or not: its times are measured by that."""
    onset_s: float
    onset_sure: bool
    speaks_s: float
    attack_s: float
    gap: Gap


_StartKey = tuple[NoteSegment | None, NoteSegment, Start, bool]
_PitchKey = tuple[NoteSegment, float, float, float | None]


@dataclass(frozen=True)
class MeasurementCache:
    """What was measured of a take while it sounded, so that it isn't measured again."""

    parts: dict[NoteSegment, tuple[NoteSegment, ...]] = field(default_factory=dict)
    transitions: dict[tuple[NoteSegment | None, NoteSegment], Transition] = field(
        default_factory=dict
    )
    starts: dict[_StartKey, NoteStart] = field(default_factory=dict)
    pitches: dict[_PitchKey, NotePitch | None] = field(default_factory=dict)

    @property
    def size(self) -> int:
        """How much is known by now."""
        return len(self.transitions) + len(self.pitches)


@dataclass(frozen=True)
class Evidence:
    """The sounds of a take, or of a stretch of it."""

    features: Features
    segments: tuple[NoteSegment, ...]
    heard_starts: tuple[HeardStart, ...]
    starts: tuple[NoteStart, ...]
    cache: MeasurementCache
    earlier: NoteSegment | None = None
    """The sound before the first of them."""

    def heard(self, number: int) -> HeardNote:
        """One sound measured, answering no expected note yet."""
        segment, start = self.segments[number], self.starts[number]
        heard_start = self.heard_starts[number]
        onset_s, end_s = start.onset_s, self._ends_s[number]
        pitch = self._pitch(number)
        return HeardNote(
            index=None,
            expected=None,
            state=State.EXTRA,
            midi=segment.midi if pitch is None else pitch.midi,
            onset_s=max(0.0, onset_s),
            onset_sure=start.onset_sure,
            speaks_s=max(0.0, start.speaks_s),
            end_s=max(0.0, end_s),
            cents_spread=None if pitch is None else pitch.spread_cents,
            drift_cents=None if pitch is None else pitch.drift_cents,
            level_db=_level(self.features.envelope, onset_s, end_s, self._rings_out(number)),
            start=heard_start.said,
            start_certainty=heard_start.certainty,
            attack_s=start.attack_s,
            gap_s=start.gap.seconds,
            risen_s=None if start.gap.risen_s is None else max(0.0, start.gap.risen_s),
            vibrato_hz=None if pitch is None else pitch.vibrato_hz,
            vibrato_cents=None if pitch is None else self._vibrato_cents(pitch),
            tone=None if pitch is None else pitch.tone,
            hiss_db=None if pitch is None else pitch.hiss_db,
        )

    def _vibrato_cents(self, pitch: NotePitch) -> float | None:
        """A vibrato's depth, where the room leaves it."""
        room, hz = self.features.room, pitch.vibrato_hz
        known = room is not None and hz is not None and room.pulses_left(hz) >= LEAST_OF_PULSES
        return pitch.vibrato_cents if known else None

    def knows_cents(self, number: int) -> bool:
        """Whether a sound's harmonics and its course agree on its pitch, so that more can be said
        of it than which note it is: where others ring into it they may not."""
        pitch = self._pitch(number)
        return pitch is not None and abs(pitch.midi - self.segments[number].midi) < AGREED_SEMITONES

    def breaths_s(self) -> tuple[tuple[float, float], ...]:
        """Silences between sounds that are long enough for a breath."""
        return tuple(
            (before.to_s, after.from_s)
            for before, after in pairwise(self.segments)
            if after.from_s - before.to_s >= BREATH_FROM_S
        )

    def _ringing_hz(self, number: int) -> float | None:
        """The tone that may still ring under a sound."""
        before = self.segments[number - 1] if number else self.earlier
        if before is None or self.segments[number].from_s - before.to_s > RINGS_S:
            return None
        return self.features.tuning.midi_hz(before.midi)

    @cached_property
    def _ends_s(self) -> tuple[float, ...]:
        return tuple(map(self._end_s, range(len(self.segments))))

    def _rings_out(self, number: int) -> bool:
        """Whether nothing follows a sound at once, so that a room is heard after it."""
        after = self.segments[number + 1 :][:1]
        return not after or _joined_to(self.segments[number], after[0]) is None

    def _end_s(self, number: int) -> float:
        """When a sound ends: under a slur where the next one starts, else where its tone stops."""
        segment, onset_s = self.segments[number], self.starts[number].onset_s
        latest_s = segment.to_s
        if number + 1 < len(self.segments):
            following = self.segments[number + 1]
            if following.from_s - segment.to_s < JOINED_S:
                latest_s = max(self.starts[number + 1].onset_s, onset_s + 0.005)
                if self.starts[number + 1].kind in (Start.SLURRED, Start.LEGATO_TONGUE):
                    return latest_s
        return tone_stops(self.features.envelope, onset_s, latest_s)

    def _pitch(self, number: int) -> NotePitch | None:
        segment, onset_s = self.segments[number], self.starts[number].onset_s
        end_s, ringing_hz = self._ends_s[number], self._ringing_hz(number)
        key = (segment, onset_s, end_s, ringing_hz)
        known = self.cache.pitches
        if key not in known:
            known[key] = note_pitch(
                self.features.samples,
                self.features.sample_rate_hz,
                self.features.frames,
                onset_s,
                end_s,
                segment.midi,
                self.features.tuning.a4_hz,
                ringing_hz=ringing_hz,
                clear=segment.clarity >= CLEAR_TONE,
            )
        return known[key]


def evidence(
    features: Features,
    segments: Sequence[NoteSegment],
    asked: Sequence[Start | None],
    cache: MeasurementCache,
    earlier: NoteSegment | None = None,
) -> Evidence:
    """Examine how each sound starts; asked: how it should, where that is known; earlier: the sound
    before the first of them, of which nothing is said."""
    befores = [earlier, *segments][: len(segments)]
    transitions = [
        transition_between(features, before, segment, cache)
        for before, segment in zip(befores, segments, strict=True)
    ]
    joined = [_joined_to(before, one) for before, one in zip(befores, segments, strict=True)]
    heard = heard_starts(features, segments, joined, transitions, asked)
    starts = tuple(
        _start(features, edge, start, segment, before, cache)
        for edge, start, segment, before in zip(transitions, heard, segments, befores, strict=True)
    )
    return Evidence(features, tuple(segments), heard, starts, cache, earlier)


def _joined_to(before: NoteSegment | None, segment: NoteSegment) -> NoteSegment | None:
    """The sound before where it ends so late that this one may be slurred to it."""
    return before if before is not None and segment.from_s - before.to_s < JOINED_S else None


def transition_between(
    features: Features, before: NoteSegment | None, segment: NoteSegment, cache: MeasurementCache
) -> Transition:
    """What stands at the seam between two neighbouring sounds, examined once and kept."""
    before = _joined_to(before, segment)
    key = (before, segment)
    if key not in cache.transitions:
        old = None if before is None else side_of(before, features.tuning)
        cache.transitions[key] = transition(
            features.samples,
            features.sample_rate_hz,
            features.envelope,
            seam_s(before, segment),
            old,
            side_of(segment, features.tuning),
        )
    return cache.transitions[key]


def _start(
    features: Features,
    edge: Transition,
    heard: HeardStart,
    segment: NoteSegment,
    before: NoteSegment | None,
    cache: MeasurementCache,
) -> NoteStart:
    """Where a sound starts, measured once for each way in which it may start, and kept."""
    kind, is_said = heard.likeliest, heard.said is not None
    key = (before, segment, kind, is_said)
    if key not in cache.starts:
        place = stroke_place(features, edge, kind, segment, before, is_said=is_said)
        cache.starts[key] = NoteStart(
            kind=kind,
            onset_s=place.stroke_s,
            onset_sure=place.sure,
            speaks_s=place.speaks_s,
            attack_s=_attack(features.envelope, edge, segment, kind),
            gap=UNKNOWN if kind is Start.SLURRED else _gap(features, before, segment),
        )
    return cache.starts[key]


def _gap(features: Features, before: NoteSegment | None, segment: NoteSegment) -> Gap:
    """The gap before a sound; unknown after silence, and where the pitch comes again."""
    if before is None or segment.from_s - before.to_s > RINGS_S or segment.has_pitch_of(before):
        return UNKNOWN
    return gap(features, before, segment)


def seam_s(before: NoteSegment | None, segment: NoteSegment) -> float:
    """Where the seam before a sound roughly lies."""
    if before is not None and before.to_s <= segment.from_s < before.to_s + BLIP_S:
        return (before.to_s + segment.from_s) / 2
    return segment.from_s


def side_of(segment: NoteSegment, tuning: Tuning) -> Side:
    """A sound as what stands beside a seam."""
    return Side(segment.from_s, segment.to_s, tuning.midi_hz(segment.midi))


def _attack(levels: Envelope, edge: Transition, segment: NoteSegment, kind: Start) -> float:
    """From the start of the rise to 3 dB below the note's steady level; under a slur from where the
    old tone ends, so that a note slow to speak shows."""
    joined = kind in (Start.SLURRED, Start.LEGATO_TONGUE) and edge.off_s is not None
    from_s = edge.off_s if joined and edge.off_s is not None else edge.begin_s
    rise = levels.between(levels.wide_db, from_s, segment.to_s)
    loud_db = quantile(rise, 0.7)
    return float(np.argmax(rise >= loud_db - ATTACK_END_DB)) * levels.step_s


def _level(levels: Envelope, onset_s: float, end_s: float, rings_out: bool) -> float:
    """Mean power of the steady part, in dB re full scale; where it rings out, only of what is
    loud in it."""
    part = levels.between(levels.wide_db, *steady_part(onset_s, end_s))
    if rings_out:
        part = part[part >= part.max() - LOUD_DB]
    return float(10 * np.log10(np.mean(10 ** (part / 10))))
