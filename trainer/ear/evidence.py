"""Everything measured for the sounds of a take: how each starts, when it ends, how high it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from trainer.ear.align import BLIP_S
from trainer.ear.boundary import Seam, Side, seam
from trainer.ear.envelope import Envelope, tone_stops
from trainer.ear.features import Features
from trainer.ear.heard import HeardNote, State, Tone
from trainer.ear.pitch import NotePitch, note_pitch, steady_part
from trainer.ear.rank import value_at
from trainer.ear.sounds import JOINED_S, Sound
from trainer.ear.starts import kinds_of_start, onset_of
from trainer.music.note import Start
from trainer.music.tuning import Tuning

RINGS_S = 0.3
CLEAR_TONE = 0.985
EARLIEST_S = 0.06
LATEST_S = 0.015
BREATH_FROM_S = 0.15
ATTACK_END_DB = 3.0


@dataclass(frozen=True)
class HowStarted:
    """How and when one sound starts."""

    onset_s: float
    attack_s: float
    kind: Start


_PitchKey = tuple[Sound, float, float, float | None]


@dataclass(frozen=True)
class Memory:
    """What was measured of a take while it sounded, so that it isn't measured again."""

    seams: dict[tuple[Sound | None, Sound], Seam] = field(default_factory=dict)
    pitches: dict[_PitchKey, NotePitch | None] = field(default_factory=dict)


@dataclass(frozen=True)
class Evidence:
    """The sounds of a take, or of a stretch of it."""

    features: Features
    sounds: tuple[Sound, ...]
    starts: tuple[HowStarted, ...]
    memory: Memory

    def heard(self, number: int) -> HeardNote:
        """One sound measured, answering no expected note yet."""
        sound, start = self.sounds[number], self.starts[number]
        onset_s, end_s = start.onset_s, self._end_s(number)
        pitch = self._pitch(sound, onset_s, end_s, self._ringing_hz(number))
        return HeardNote(
            index=None,
            expected=None,
            state=State.EXTRA,
            midi=sound.midi if pitch is None else pitch.midi,
            onset_s=onset_s,
            end_s=end_s,
            cents_spread=None if pitch is None else pitch.spread_cents,
            drift_cents=None if pitch is None else pitch.drift_cents,
            level_db=_level(self.features.envelope, onset_s, end_s),
            start=start.kind,
            attack_s=start.attack_s,
            vibrato_hz=None if pitch is None else pitch.vibrato_hz,
            vibrato_cents=None if pitch is None else pitch.vibrato_cents,
            tone=None if pitch is None else _tone(pitch),
        )

    def breaths_s(self) -> tuple[tuple[float, float], ...]:
        """Silences between sounds that are long enough for a breath."""
        return tuple(
            (before.to_s, after.from_s)
            for before, after in pairwise(self.sounds)
            if after.from_s - before.to_s >= BREATH_FROM_S
        )

    def _ringing_hz(self, number: int) -> float | None:
        """The tone that may still ring under a sound."""
        if number == 0 or self.sounds[number].from_s - self.sounds[number - 1].to_s > RINGS_S:
            return None
        return self.features.tuning.midi_hz(self.sounds[number - 1].midi)

    def _end_s(self, number: int) -> float:
        """When a sound ends: under a slur where the next one starts, else where its tone stops."""
        sound, onset_s = self.sounds[number], self.starts[number].onset_s
        latest_s = sound.to_s
        if number + 1 < len(self.sounds):
            following = self.sounds[number + 1]
            if following.from_s - sound.to_s < JOINED_S:
                latest_s = max(self.starts[number + 1].onset_s, onset_s + 0.005)
                if self.starts[number + 1].kind in (Start.SLURRED, Start.LEGATO_TONGUE):
                    return latest_s
        return tone_stops(self.features.envelope, onset_s, latest_s)

    def _pitch(
        self, sound: Sound, onset_s: float, end_s: float, ringing_hz: float | None
    ) -> NotePitch | None:
        key = (sound, onset_s, end_s, ringing_hz)
        known = self.memory.pitches
        if key not in known:
            known[key] = note_pitch(
                self.features.samples,
                self.features.sample_rate_hz,
                self.features.frames,
                onset_s,
                end_s,
                sound.midi,
                self.features.tuning.a4_hz,
                ringing_hz=ringing_hz,
                clear=sound.clarity >= CLEAR_TONE,
            )
        return known[key]


def evidence(
    features: Features,
    sounds: Sequence[Sound],
    asked: Sequence[Start | None],
    memory: Memory,
) -> Evidence:
    """Examine how each sound starts; asked: how it should, where that is known."""
    joined = joined_to_last(sounds)
    seams = [
        _seam(features, sounds[number - 1] if joins else None, sound, memory)
        for number, (sound, joins) in enumerate(zip(sounds, joined, strict=True))
    ]
    kinds = kinds_of_start(seams, joined, asked)
    starts = tuple(
        HowStarted(
            _near(onset_of(edge, kind), sound), _attack(features.envelope, edge, sound, kind), kind
        )
        for edge, kind, sound in zip(seams, kinds, sounds, strict=True)
    )
    return Evidence(features, tuple(sounds), starts, memory)


def joined_to_last(sounds: Sequence[Sound]) -> list[bool]:
    """Whether each sound begins so soon after the last that it may be slurred to it."""
    if not sounds:
        return []
    return [False, *(after.from_s - before.to_s < JOINED_S for before, after in pairwise(sounds))]


def _seam(features: Features, before: Sound | None, sound: Sound, memory: Memory) -> Seam:
    key = (before, sound)
    if key not in memory.seams:
        rough_s = sound.from_s
        if before is not None and before.to_s <= sound.from_s < before.to_s + BLIP_S:
            rough_s = (before.to_s + sound.from_s) / 2
        old = None if before is None else _side(before, features.tuning)
        memory.seams[key] = seam(
            features.samples,
            features.sample_rate_hz,
            features.envelope,
            rough_s,
            old,
            _side(sound, features.tuning),
        )
    return memory.seams[key]


def _near(onset_s: float, sound: Sound) -> float:
    """The onset, held to where the course saw the note begin: in a hall that is the surer sign."""
    return min(max(onset_s, sound.from_s - EARLIEST_S), sound.from_s + LATEST_S)


def _side(sound: Sound, tuning: Tuning) -> Side:
    return Side(sound.from_s, sound.to_s, tuning.midi_hz(sound.midi))


def _attack(levels: Envelope, edge: Seam, sound: Sound, kind: Start) -> float:
    """From the start of the rise to 3 dB below the note's steady level; under a slur from where the
    old tone ends, so that a note slow to speak shows."""
    joined = kind in (Start.SLURRED, Start.LEGATO_TONGUE) and edge.off_s is not None
    from_s = edge.off_s if joined and edge.off_s is not None else edge.begin_s
    rise = levels.between(levels.wide_db, from_s, sound.to_s)
    loud_db = value_at(rise, 0.7)
    return float(np.argmax(rise >= loud_db - ATTACK_END_DB)) * levels.step_s


def _level(levels: Envelope, onset_s: float, end_s: float) -> float:
    """Mean power of the steady part, in dB re full scale."""
    part = levels.between(levels.wide_db, *steady_part(onset_s, end_s))
    return float(10 * np.log10(np.mean(10 ** (part / 10))))


def _tone(pitch: NotePitch) -> Tone:
    power = np.maximum(pitch.fit.amplitudes**2, 1e-14)
    order = np.arange(1, power.size + 1)
    return Tone(
        harmonic_balance_db=float(10 * np.log10(max(power[1:].sum(), 1e-14) / power[0])),
        noise_share_db=float(
            10 * np.log10(max(pitch.fit.noise_power, 1e-14) / pitch.fit.tone_power)
        ),
        brightness=float((order * power).sum() / power.sum()),
    )
