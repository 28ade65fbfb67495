"""The partner's tone: the notes of a round, or a drone, rendered to samples.

Steady on purpose: no vibrato and exact harmonics, so that the student can tune against it and the
ear can tell it from the flute. Levels of the harmonics follow, in general shape, the flute notes
of the SHARC archive (G. Sandell, from the McGill University Master Samples, 'flute_vibrato').
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from types import MappingProxyType
from typing import Protocol, assert_never

import numpy as np
from numpy.typing import NDArray

from trainer.music.note import Mark, Note, Start
from trainer.music.ornaments import realised
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning
from trainer.sound.click import beat_frame
from trainer.sound.port import Samples

Signal = NDArray[np.float64]

HARMONIC_LEVELS_DB: dict[int, tuple[float, ...]] = {
    60: (-9.6, 0.0, -6.4, -11.5, -8.4, -16.8),
    69: (0.0, -2.8, -17.1, -15.5, -19.5, -32.1),
    74: (0.0, -15.7, -18.4, -27.5, -37.2, -56.9),
    81: (0.0, -16.5, -16.9, -32.4, -37.8, -46.4),
    86: (0.0, -15.0, -31.7, -35.2, -46.2, -42.3),
    96: (0.0, -30.3, -27.5, -43.7, -60.0, -60.0),
}
"""MIDI number → levels of harmonics 1 to 6 (SHARC; C7 has four); straight lines in between."""

RMS = 0.08
"""Level of a steady note up to C5, full scale 1: -22 dB, soft beside a full-scale sound."""
SOFTER_DB_PER_OCTAVE = 4.0
"""Above C5 a steady level turns piercing; common practice, no source."""
SOFTER_FROM_MIDI = 72.0
"""C5: higher notes are louder to the ear at one level."""

RISE_S = 0.012
"""From nothing to the full tone; short, so that the onset is heard where it stands."""
BREATH_RISE_S = 0.040
"""... where air alone begins it."""
RELEASE_S = 0.020
GAP_S = 0.030
"""Silence before a tongued or breathed note, at most GAP_SHARE of the note before it."""
GAP_SHARE = 0.15
BREATH_S = 0.300
"""Silence where a breath may be taken, at most BREATH_SHARE of the note before it."""
BREATH_SHARE = 0.35
"""Of the note before a breath."""
STACCATO_SHARE = 0.5
"""Silence in a note with a dot, of its length (common practice, no source)."""
ACCENT_DB = 4.0
"""How much louder a note with an accent is. Our own choice."""
STROKE_DB = -8.0
STROKE_S = 0.016
"""The dip of a legato-tongued note: the air goes on, the tongue brushes it."""
BLEND_S = 0.010
"""A slur changes tone colour as fast as a key closes: about 10 ms (Almeida, Chow, Smith and
Wolfe 2009, JASA 126:1521)."""
DRONE_RISE_S = 0.250
BEATS_BELOW_HZ = 15.0
"""Partials less far apart are heard as one tone that beats (Helmholtz, On the Sensations of Tone;
the limit differs between writers)."""
SAME_PLACE_HZ = 1e-6
"""Nobody holds a drone long enough to hear these beat."""
NYQUIST_SHARE = 0.45
"""Harmonics above this share of the rate are left out."""


class Voice(Protocol):
    """What the partner plays with."""

    def line(self, tones: Sequence[tuple[float, int]], rate: int) -> Signal:
        """Tones in one breath, slurred, each its pitch in Hz and its frames; shape (all frames,).

        Each at the level of `steady_rms`, without beginning or end.
        """
        ...


@dataclass(frozen=True)
class _Tone:
    """One note as it will sound."""

    onset_frame: int
    end_frame: int
    """Where the next note or the silence begins."""
    hz: float
    start: Start
    joined: bool
    """The air goes on from the note before."""
    goes_on: bool
    """The air goes on into the next note."""
    gain: float = 1.0


def partner(
    notes: Sequence[Note],
    tempo_bpm: float,
    tuning: Tuning,
    sample_rate_hz: int,
    semitones: int = 0,
    gain: float = 1.0,
    voice: Voice | None = None,
    pure_to: Mapping[int, Pitch] = MappingProxyType({}),
) -> Samples:
    """The notes as the partner plays them; frame 0 is the round's first beat.

    Semitones go from the written pitch to the partner's sound: -12 for the octave below, -5 for
    an alto flute's own pitch. pure_to: index of a note without graces and ornament → the pitch,
    in equal temperament, it stands pure to; the others stand in the tuning. As long as the notes:
    shape (frames of the last note's end,).
    """
    if not notes:
        return np.zeros(0, np.float32)
    found = realised(notes, 60.0 / tempo_bpm)
    tunings = [
        replace(tuning, drone=pure_to.get(notes[owner].index, tuning.drone))
        for owner in found.owners
    ]
    notes = found.notes
    tones = _tones(notes, tempo_bpm, tunings, sample_rate_hz, semitones)
    last = notes[-1]
    out: Signal = np.zeros(beat_frame(0, last.beat + last.length, tempo_bpm, sample_rate_hz))
    voice = voice or SteadyTone()
    for breath in _breaths(tones):
        sound = voice.line(
            [(tone.hz, tone.end_frame - tone.onset_frame) for tone in breath], sample_rate_hz
        )
        out[breath[0].onset_frame : breath[-1].end_frame] = sound
    for tone in tones:
        count = tone.end_frame - tone.onset_frame
        out[tone.onset_frame : tone.end_frame] *= _envelope(tone, count, sample_rate_hz)
    return (gain * out).astype(np.float32)


def drone(
    pitch: Pitch,
    seconds: float,
    tuning: Tuning,
    sample_rate_hz: int,
    gain: float = 1.0,
) -> Samples:
    """A steady tone to tune against, with a slow beginning and end; no sample is steady enough."""
    return moving_drone([(0.0, pitch)], seconds, tuning, sample_rate_hz, gain)


def moving_drone(
    pitches: Sequence[tuple[float, Pitch]],
    seconds: float,
    tuning: Tuning,
    sample_rate_hz: int,
    gain: float = 1.0,
) -> Samples:
    """A drone that goes on to each pitch at its second, the first at 0, in one breath."""
    starts = [round(at_s * sample_rate_hz) for at_s, _ in pitches]
    ends = [*starts[1:], round(seconds * sample_rate_hz)]
    tones = [
        (tuning.hz(pitch), end - start)
        for (_, pitch), start, end in zip(pitches, starts, ends, strict=True)
    ]
    return _held(SteadyTone().line(tones, sample_rate_hz), sample_rate_hz, gain)


def _held(wave: Signal, rate: int, gain: float) -> Samples:
    """The tone with the beginning and end of a drone."""
    rise = _rise(min(round(DRONE_RISE_S * rate), wave.size // 2))
    wave[: rise.size] *= rise
    wave[wave.size - rise.size :] *= rise[::-1]
    return (gain * wave).astype(np.float32)


def held_piece(
    voices_hz: Sequence[float], from_frame: int, frames: int, sample_rate_hz: int
) -> Samples:
    """A piece of a chord that is held without end, as loud as its lowest voice would be alone.

    from_frame counts from the chord's beginning: wherever a piece begins, its waves go on as they
    stood. It rises and falls over DRONE_RISE_S, so that pieces that overlap by so much add up to
    one level. Shape (frames,).
    """
    partials = _chord_partials(voices_hz, sample_rate_hz)
    turns = np.arange(from_frame, from_frame + frames, dtype=np.float64) / sample_rate_hz
    wave: Signal = np.zeros(frames)
    for hz, level in partials.items():
        wave += level * np.sin(2 * np.pi * hz * turns)
    return _held(wave, sample_rate_hz, 1.0)


def _chord_partials(voices_hz: Sequence[float], rate: int) -> dict[float, float]:
    """Frequency → amplitude of every partial of the chord, lowest voice first.

    What an upper voice has in the same place adds to what is there. What it has beside it, as a
    tempered fifth has, is left out: the chord would beat in itself, and hide the student's beats.
    """
    partials: dict[float, float] = {}
    for voice_hz in voices_hz:
        levels = _harmonic_levels(voice_hz, voice_hz, rate)
        for hz, level in zip(voice_hz * np.arange(1, levels.size + 1), levels, strict=True):
            nearest = min(partials, key=lambda other: abs(other - hz), default=0.0)
            apart_hz = abs(nearest - hz)
            if apart_hz > BEATS_BELOW_HZ:
                partials[float(hz)] = float(level)
            elif apart_hz < SAME_PLACE_HZ:
                partials[nearest] += float(level)
    power = sum(level**2 for level in partials.values()) / 2.0
    scale = steady_rms(voices_hz[0]) / np.sqrt(power)
    return {hz: level * scale for hz, level in partials.items()}


def _tones(
    notes: Sequence[Note], tempo_bpm: float, tunings: Sequence[Tuning], rate: int, semitones: int
) -> list[_Tone]:
    joins = [False, *(_air_goes_on(note, after) for note, after in pairwise(notes)), False]
    onsets = [beat_frame(0, note.beat, tempo_bpm, rate) for note in notes]
    tones = []
    for place, note in enumerate(notes):
        end = beat_frame(0, note.beat + note.length, tempo_bpm, rate)
        goes_on = joins[place + 1]
        silence = 0 if goes_on else _silence_frames(note, end - onsets[place], rate)
        tones.append(
            _Tone(
                onset_frame=onsets[place],
                end_frame=end - silence,
                hz=tunings[place].hz(note.pitch) * 2 ** (semitones / 12),
                start=note.start,
                joined=joins[place],
                goes_on=goes_on,
                gain=10.0 ** (ACCENT_DB / 20.0) if note.mark is Mark.ACCENT else 1.0,
            )
        )
    return tones


def _breaths(tones: Sequence[_Tone]) -> list[list[_Tone]]:
    breaths: list[list[_Tone]] = []
    for tone in tones:
        if tone.joined:
            breaths[-1].append(tone)
        else:
            breaths.append([tone])
    return breaths


def _air_goes_on(note: Note, after: Note) -> bool:
    joined = after.start in (Start.SLURRED, Start.LEGATO_TONGUE)
    return joined and not note.breath_after and after.beat == note.beat + note.length


def _silence_frames(note: Note, frames: int, rate: int) -> int:
    """Silence at the end of a note that doesn't go on into the next."""
    if note.breath_after:
        return min(round(BREATH_S * rate), int(BREATH_SHARE * frames))
    if note.mark is Mark.STACCATO:
        return int(STACCATO_SHARE * frames)
    return min(round(GAP_S * rate), int(GAP_SHARE * frames))


def steady_rms(hz: float) -> float:
    """The level of a steady note at this pitch, full scale 1."""
    octaves_above = max(0.0, Tuning().midi(hz) - SOFTER_FROM_MIDI) / 12.0
    return float(RMS * 10.0 ** (-SOFTER_DB_PER_OCTAVE * octaves_above / 20.0))


class SteadyTone:
    """A flute-like tone made of exact harmonics."""

    def line(self, tones: Sequence[tuple[float, int]], rate: int) -> Signal:
        """As `Voice` asks."""
        waves, phase, before_hz = [], 0.0, tones[0][0]
        for hz, frames in tones:
            turning = 2 * np.pi * hz / rate
            angle = phase + turning * np.arange(frames, dtype=np.float64)
            waves.append(_wave(angle, hz, before_hz, rate))
            phase, before_hz = (phase + turning * frames) % (2 * np.pi), hz
        return np.concatenate(waves)


def _wave(angle: Signal, hz: float, before_hz: float, rate: int) -> Signal:
    """A tone whose fundamental turns so; it begins in the colour of the tone before."""
    levels, before = (_harmonic_levels(colour_hz, hz, rate) for colour_hz in (hz, before_hz))
    sines = _harmonics(angle, levels.size)
    wave = np.asarray(levels @ sines)
    blend = min(round(BLEND_S * rate), angle.size)
    weight = np.linspace(1.0, 0.0, blend, endpoint=False)
    wave[:blend] += weight * ((before - levels) @ sines[:, :blend])
    return wave


def _harmonics(angle: Signal, count: int) -> Signal:
    """sin(k·angle) for k = 1 … count, shape (count, frames), by the recurrence for sin(k·x)."""
    sines = np.empty((count, angle.size))
    sines[0] = np.sin(angle)
    twice_cosine = 2.0 * np.cos(angle)
    if count > 1:
        sines[1] = twice_cosine * sines[0]
    for k in range(2, count):
        np.multiply(twice_cosine, sines[k - 1], out=sines[k])
        sines[k] -= sines[k - 2]
    return sines


def _harmonic_levels(colour_hz: float, hz: float, rate: int) -> Signal:
    """Amplitudes of the harmonics at a pitch in the colour of the flute's note at another."""
    table = np.array(list(HARMONIC_LEVELS_DB.values()))
    anchors = np.array(list(HARMONIC_LEVELS_DB))
    levels_db = np.array(
        [np.interp(Tuning().midi(colour_hz), anchors, column) for column in table.T]
    )
    levels = 10.0 ** (levels_db / 20.0)
    levels *= steady_rms(colour_hz) / np.sqrt(np.sum(levels**2) / 2.0)
    levels[hz * np.arange(1, levels.size + 1) > NYQUIST_SHARE * rate] = 0.0
    return np.asarray(levels)


def _envelope(tone: _Tone, count: int, rate: int) -> Signal:
    """Rise, stroke and release of one note, shape (count,)."""
    envelope = np.full(count, tone.gain)
    if not tone.joined:
        rise = _rise(min(round(_rise_s(tone.start) * rate), count // 2))
        envelope[: rise.size] *= rise
    elif tone.start is Start.LEGATO_TONGUE:
        stroke = min(round(STROKE_S * rate), count // 2)
        depth = 1.0 - 10.0 ** (STROKE_DB / 20.0)
        envelope[:stroke] *= 1.0 - depth * np.sin(np.pi * np.arange(stroke) / stroke) ** 2
    if not tone.goes_on:
        release = _rise(min(round(RELEASE_S * rate), count // 2))
        envelope[count - release.size :] *= release[::-1]
    return envelope


def _rise_s(start: Start) -> float:
    match start:
        case Start.BREATH | Start.SILENT_AIR:
            return BREATH_RISE_S
        case Start.SLURRED | Start.LEGATO_TONGUE | Start.TONGUED | Start.BACK_TONGUED:
            return RISE_S
        case _:
            assert_never(start)


def _rise(frames: int) -> Signal:
    """Half a cosine from 0 to 1, shape (frames,)."""
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * (np.arange(frames) + 0.5) / max(frames, 1)))
