"""A made flute with exact truth, written apart from the player the trainer carries.

Harmonic levels are SHARC's (G. J. Sandell, the Sandell Harmonic Archive, flute without vibrato);
what happens in time is our own and is varied from note to note, so that nothing can be tuned to
one consonant, one attack or one room.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch, sharp_name
from trainer.player.sharc import HARMONIC_LEVELS_DB

Sound = NDArray[np.float64]

_CONTROL_HZ = 4000
_TONE_DB = -20.0
_SCALE = (0, 2, 4, 5, 7, 9, 11)
_TONGUES = (Start.TONGUED, Start.BACK_TONGUED, Start.LEGATO_TONGUE)


@dataclass(frozen=True)
class Blown:
    """One note as it shall sound. Times in seconds from the start of the sound."""

    midi: int
    onset_s: float
    end_s: float
    start: Start
    gap_s: float = 0.0
    """Silence of the air before it, where the tongue stops the note before."""
    attack_s: float = 0.02
    tone_after_s: float = 0.0
    transient_db: float | None = None
    """Consonant against the tone; None: none is heard."""
    burst_after_s: float = 0.0
    dip_db: float = 0.0
    """How far the tone dips under a slur or a soft stroke."""
    dip_s: float = 0.025
    """How long before and after its start the dip reaches."""
    change_s: float = 0.012
    """How long the pitch takes to change under a slur."""
    cents: float = 0.0
    level_db: float = 0.0
    vibrato_hz: float = 0.0
    vibrato_cents: float = 0.0
    """Half of peak to peak."""


def scale(low: int = 60, high: int = 96) -> list[int]:
    """A major scale from the low note up to the high one and back, MIDI numbers."""
    up = [midi for midi in range(low, high + 1) if (midi - low) % 12 in _SCALE]
    return [*up, *up[-2::-1]]


def as_expected(
    midis: Sequence[int], start: Start = Start.TONGUED, length: Fraction = Fraction(1, 4)
) -> tuple[Note, ...]:
    """Expected notes of one length in a row."""
    return tuple(
        Note(index, Pitch.parse(sharp_name(midi)), index * length, length, start)
        for index, midi in enumerate(midis)
    )


def blown(
    midis: Sequence[int],
    bpm: float,
    start: Start,
    dice: np.random.Generator,
    first_s: float = 0.5,
    jitter_s: float = 0.004,
) -> list[Blown]:
    """Sixteenths in one articulation, every consonant, attack and gap another."""
    step_s = 15.0 / bpm
    onsets_s = first_s + step_s * np.arange(len(midis)) + dice.normal(0, jitter_s, len(midis))
    ends_s = [*onsets_s[1:], onsets_s[-1] + 1.5 * step_s]
    notes = []
    for place, (midi, onset_s, end_s) in enumerate(zip(midis, onsets_s, ends_s, strict=True)):
        own = Start.TONGUED if start is Start.SLURRED and place == 0 else start
        note = Blown(midi, float(onset_s), float(end_s), own)
        notes.append(replace(note, **manner(own, step_s, dice)))
    return notes


def manner(start: Start, step_s: float, dice: np.random.Generator) -> dict[str, float | None]:
    """How one note starts; missing, weak and late consonants among them."""
    common = {"cents": float(dice.normal(0, 6)), "level_db": float(dice.normal(0, 1.2))}
    if start is Start.SLURRED:
        # slurs over leaps dip by 10 dB and more in recorded phrases
        dip_db = float(dice.choice([0.0, 0.0, 1.5, 4.0, 8.0, 11.0]))
        return common | {"change_s": float(dice.uniform(0.008, 0.018)), "dip_db": dip_db}
    if start is Start.LEGATO_TONGUE:
        return common | {
            "dip_db": float(dice.uniform(6, 11)),
            "transient_db": float(dice.uniform(-40, -31)),
            "burst_after_s": float(dice.uniform(-0.001, 0.003)),
        }
    if start in (Start.BREATH, Start.SILENT_AIR):
        return common | {
            "gap_s": float(dice.uniform(0.03, 0.06)) * min(1.0, step_s / 0.15),
            "attack_s": float(dice.uniform(0.09, 0.13)) * min(1.0, step_s / 0.2),
            "tone_after_s": float(dice.uniform(0.01, 0.03)),
        }
    loud_db = float(dice.uniform(-40, -28))
    return common | {
        "gap_s": float(dice.uniform(0.015, 0.06)) * min(1.0, step_s / 0.15),
        "attack_s": float(dice.uniform(0.012, 0.035)),
        "tone_after_s": float(dice.uniform(0.0, 0.006)),
        "transient_db": None if dice.random() < 0.15 else loud_db,
        "burst_after_s": float(dice.uniform(-0.001, 0.004)),
    }


def sounded(
    notes: Sequence[Blown],
    rate: int,
    dice: np.random.Generator,
    noise_db: float = -33.0,
    tail_s: float = 0.3,
    a4_hz: float = 440.0,
) -> Sound:
    """The sound of the notes; noise_db: breath noise against the tone."""
    count = round((notes[-1].end_s + tail_s) * rate)
    points = int(count * _CONTROL_HZ / rate) + 2
    time_s = np.arange(points) / _CONTROL_HZ
    place = _fingered(notes, time_s)
    tone, air = _envelopes(notes, time_s)
    octaves = np.array([(n.midi - 69 + n.cents / 100) / 12 for n in notes])
    own = np.arange(len(notes))
    hz = a4_hz * 2 ** (np.interp(place, own, octaves) + _vibrato(notes, time_s) / 1200)
    cycles = np.concatenate([[0.0], np.cumsum((hz[1:] + hz[:-1]) / 2)]) / _CONTROL_HZ
    at = np.arange(count) * (_CONTROL_HZ / rate)
    phase = 2 * np.pi * np.interp(at, np.arange(points), cycles)
    levels = np.array([_amplitudes(note, rate, a4_hz) for note in notes])
    sound = np.zeros(count)
    for harmonic in range(levels.shape[1]):
        if levels[:, harmonic].any():
            strength = np.interp(place, own, levels[:, harmonic]) * tone
            sound += np.interp(at, np.arange(points), strength) * np.sin((harmonic + 1) * phase)
    white = dice.standard_normal(count)
    hiss = signal.sosfilt(signal.butter(1, (400, 5000), "band", fs=rate, output="sos"), white)
    hiss *= 10 ** ((_TONE_DB + noise_db) / 20) / hiss.std()
    sound += hiss * np.interp(at, np.arange(points), air)
    return sound + _consonants(notes, rate, count, dice)


def _amplitudes(note: Blown, rate: int, a4_hz: float) -> Sound:
    """Amplitudes of harmonics 1 to 8 at the note's level."""
    row = np.full(8, -120.0)
    measured = HARMONIC_LEVELS_DB[note.midi]
    row[: len(measured)] = measured
    hz = a4_hz * 2 ** ((note.midi - 69) / 12)
    linear = np.where(np.arange(1, 9) * hz < 0.45 * rate, 10 ** (row / 20), 0.0)
    return linear / np.sqrt(np.sum(linear**2) / 2) * 10 ** ((_TONE_DB + note.level_db) / 20)


def _fingered(notes: Sequence[Blown], time_s: Sound) -> Sound:
    """Place of the note fingered, sliding over while a key moves."""
    times, places = [0.0], [0.0]
    for number, note in enumerate(notes[1:], start=1):
        half_s = note.change_s / 2
        middle_s = note.onset_s if note.gap_s == 0 else note.onset_s - half_s - 0.001
        times += [middle_s - half_s, middle_s + half_s]
        places += [number - 1, number]
    straight = np.interp(time_s, times, places)
    whole = np.floor(straight)
    return np.asarray(whole + _smooth(straight - whole))


def _envelopes(notes: Sequence[Blown], time_s: Sound) -> tuple[Sound, Sound]:
    """Envelopes of tone and air, 0 to 1."""
    tone, air = np.zeros_like(time_s), np.zeros_like(time_s)
    for number, note in enumerate(notes):
        after = notes[number + 1] if number + 1 < len(notes) else None
        stops_s = note.end_s if after is None else after.onset_s - after.gap_s
        inside = (time_s >= note.onset_s) & (time_s < stops_s)
        goes_on = note.gap_s == 0 and number > 0
        rise = _smooth((time_s - note.onset_s - note.tone_after_s) / note.attack_s)
        if note.start is Start.SILENT_AIR:
            rise = np.zeros_like(time_s)
        tone[inside] = 1.0 if goes_on else rise[inside]
        swell_s = 0.02 if note.start in (Start.BREATH, Start.SILENT_AIR) else 0.003
        air[inside] = 1.0 if goes_on else _smooth((time_s[inside] - note.onset_s) / swell_s)
        if after is None or after.gap_s > 0:
            rings = time_s >= stops_s
            dying = np.exp(-(time_s[rings] - stops_s) / 0.009)
            tone[rings] = np.maximum(tone[rings], dying * (tone[inside][-1] if inside.any() else 0))
        if note.dip_db:
            away = np.abs(time_s - note.onset_s) / note.dip_s
            tone *= 10 ** (-note.dip_db * _smooth(1 - away) / 20)
    if any(note.start is Start.SILENT_AIR for note in notes):
        air *= 4.0
    return tone, air


def _vibrato(notes: Sequence[Blown], time_s: Sound) -> Sound:
    cents = np.zeros_like(time_s)
    for note in notes:
        if note.vibrato_cents:
            inside = (time_s >= note.onset_s) & (time_s < note.end_s)
            turn = 2 * np.pi * note.vibrato_hz * (time_s[inside] - note.onset_s)
            cents[inside] = note.vibrato_cents * np.sin(turn)
    return cents


def _consonants(notes: Sequence[Blown], rate: int, count: int, dice: np.random.Generator) -> Sound:
    """Bursts of noise as the tongue lets go, front strokes higher than back ones."""
    sound = np.zeros(count)
    for note in notes:
        if note.transient_db is None or note.start not in _TONGUES:
            continue
        low_hz = 1500 if note.start is Start.BACK_TONGUED else dice.uniform(2500, 5000)
        high_hz = min(dice.uniform(7000, 12000), 0.44 * rate)
        first = round((note.onset_s + note.burst_after_s) * rate)
        length = min(round(0.05 * rate), count - first)
        band = signal.butter(
            2, (min(low_hz, 0.6 * high_hz), high_hz), "band", fs=rate, output="sos"
        )
        noise = signal.sosfilt(band, dice.standard_normal(length + 400))[400:]
        noise *= np.exp(-np.arange(length) / rate / dice.uniform(0.004, 0.01)) / noise.std()
        sound[first : first + length] += noise * 10 ** ((_TONE_DB + note.transient_db) / 20)
    return sound


def in_a_room(
    sound: Sound, rate: int, rt60_s: float, dice: np.random.Generator, wet_db: float = -6.0
) -> Sound:
    """With a few early echoes and a diffuse tail, wet_db against the direct sound."""
    count = round(rt60_s * rate)
    time_s = np.arange(count) / rate
    tail = dice.standard_normal(count) * 10 ** (-3 * time_s / rt60_s)
    tail = signal.sosfilt(signal.butter(1, 5000, "low", fs=rate, output="sos"), tail)
    tail[time_s < 0.006] = 0.0
    for _ in range(5):
        tail[round(dice.uniform(0.003, 0.02) * rate)] += (
            dice.choice([-1, 1]) * 0.3 * np.abs(tail).max()
        )
    tail *= 10 ** (wet_db / 20) / np.sqrt(np.sum(tail**2))
    wet = signal.fftconvolve(sound, tail)[: sound.size]
    return np.asarray(sound + wet)


def microphoned(
    sound: Sound, dice: np.random.Generator, floor_db: float = -68.0
) -> NDArray[np.float32]:
    """What a microphone makes of it: its own noise added, clipped at full scale."""
    heard = sound + dice.standard_normal(sound.size) * 10 ** (floor_db / 20)
    return np.clip(heard, -1, 1).astype(np.float32)


def _smooth(share: Sound) -> Sound:
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip(share, 0, 1)))
