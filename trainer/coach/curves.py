"""Pitch and level inside held notes: the vibrato's pulses, and what a swell does to the pitch."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from trainer.ear.heard import LEAST_OF_PULSES, HeardNote, LiveReading, Room, Take

Track = NDArray[np.float64]

HELD_S = 1.2
"""A shorter note has no curve worth reading. Our own estimate."""
ATTACK_S, RELEASE_S = 0.15, 0.12
"""Left out at either end: the tone builds up in 30 to 60 ms when tongued, 80 to 150 ms on the
breath (order of magnitude, weakly supported)."""
PULSES_HZ = (0.8, 9.0)
"""Where pulses are looked for: exercises begin at one a beat; well-known flutists vibrate at 5 to
8 Hz (L. Garrison, Visualizing Vibrato, British Flute Society 2012)."""
SMOOTH_S = 0.25
"""A mean over this leaves a grown vibrato out of a swell. Our own estimate."""
TAIL_DB_PER_S = 20.0
"""What falls as quickly to the very end is the room's doing, not a player's: 60 dB in 3 s, longer
than halls take; softest to loudest a flute has some 20 to 30 dB (from memory), and a held note
takes longer over them. Our own estimate."""
HALF_SHARE = 0.3
"""A pulse at half of the strongest rate, with so much of its power, is the player's: in a hall a
pitch that goes up and down passes each of the room's peaks twice, and the level moves twice as fast
as the breath. Of 135 notes with pulses of 1.6 to 4.9 a second in rooms and halls 8 were read at
another rate before, one since (our own measurement on recorded notes)."""
_STEP_S = 0.01
_BAND_HZ = 0.6
"""Half the width of what counts as one rate."""
_LEAST_DB = 2.0
"""Where the level moved less than this, nothing is said of how the pitch went with it."""


@dataclass(frozen=True)
class Pulse:
    """The vibrato of one held note."""

    hz: float
    """Rate of the strongest pulse, of pitch or of level."""
    cents: float
    """Half the peak-to-peak extent of the pitch, as far as the room leaves it."""
    most_cents: float
    """So much it may be at most, where the room takes of it; infinite where no room is known."""
    db: float
    """Half the peak-to-peak extent of the level."""
    regular: float
    """Share of all that moves which moves at this rate, or twice as fast, 0 to 1: a pulse that is
    no sine has both, and so has one that a room makes its own of."""

    @property
    def depth_known(self) -> bool:
        """Whether the room leaves it as deep as it is played, or nearly."""
        return self.cents >= LEAST_OF_PULSES * self.most_cents


@dataclass(frozen=True)
class Swelling:
    """What a held note did as its level changed."""

    grew_db: float
    """Loudest against the beginning."""
    fell_db: float
    """Loudest against the end."""
    cents_per_db: float | None
    """How the pitch went with the level; None where the level hardly moved."""
    moved_cents: float
    """Highest against lowest pitch, vibrato left out."""


@dataclass(frozen=True)
class Curve:
    """One held note, vibrato and swell."""

    index: int
    pulse: Pulse
    swelling: Swelling


def curves(take: Take, readings: Sequence[LiveReading]) -> dict[int, Curve]:
    """The held notes of a take by their index; readings on the take's clock, in order."""
    times = np.array([one.time_s for one in readings])
    midi = np.array([np.nan if one.midi is None else one.midi for one in readings])
    level = np.array([one.level_db for one in readings])
    result: dict[int, Curve] = {}
    for note in take.expected_notes:
        curve = _curve(note, times, midi, level, take.room)
        if curve is not None:
            result[curve.index] = curve
    return result


def _curve(
    note: HeardNote, times: Track, midi: Track, level: Track, room: Room | None
) -> Curve | None:
    if note.onset_s is None or note.end_s is None or note.index is None or note.midi is None:
        return None
    from_s, to_s = note.onset_s + ATTACK_S, note.end_s - RELEASE_S
    if to_s - from_s < HELD_S - ATTACK_S - RELEASE_S:
        return None
    near = np.abs(midi - note.midi) < 1.0
    inside = (times >= from_s) & (times <= to_s) & near
    if inside.sum() < 0.7 * (to_s - from_s) / np.median(np.diff(times)):
        return None
    even = np.arange(times[inside][0], times[inside][-1], _STEP_S)
    cents = np.interp(even, times[inside], 100 * (midi[inside] - note.midi))
    db = np.interp(even, times[inside], level[inside])
    blown = _blown(db)
    return Curve(
        note.index, _pulse(cents[:blown], db[:blown], room), _swelling(cents[:blown], db[:blown])
    )


def _blown(db: Track) -> int:
    """How many of the levels come before the room's tail; all of them where it has none."""
    width = round(SMOOTH_S / _STEP_S)
    falls_db = db[:-width] - db[width:]
    going_on = np.flatnonzero(falls_db < TAIL_DB_PER_S * SMOOTH_S)
    if not going_on.size or going_on[-1] == falls_db.size - 1:
        return db.size
    return max(int(going_on[-1]), round((HELD_S - ATTACK_S - RELEASE_S) / _STEP_S))


def _pulse(cents: Track, db: Track, room: Room | None) -> Pulse:
    """The strongest rate in pitch and level together, a decibel weighed like three cents.

    A breath vibrato moves both; which leads differs between players, and no figure is published.
    """
    weight = 3.0
    pitch, loudness = _waving(cents), _waving(db)
    rates_hz, pitch_power = _spectrum(pitch)
    power = pitch_power + weight**2 * _spectrum(loudness)[1]
    inside = (rates_hz >= PULSES_HZ[0]) & (rates_hz <= PULSES_HZ[1])
    if not inside.any() or power[inside].sum() <= 0:
        return Pulse(0.0, 0.0, 0.0, 0.0, 0.0)
    hz = _slower(rates_hz, power, float(rates_hz[inside][np.argmax(power[inside])]))
    around = inside & (np.abs(rates_hz - hz) <= _BAND_HZ)
    around |= inside & (np.abs(rates_hz - 2 * hz) <= _BAND_HZ)
    regular = float(power[around].sum() / power[inside].sum())
    deep_cents = _extent(pitch, hz)
    return Pulse(
        hz=hz,
        cents=deep_cents,
        most_cents=math.inf if room is None else deep_cents / room.pulses_left(hz),
        db=_extent(loudness, hz),
        regular=regular,
    )


def _slower(rates_hz: Track, power: Track, hz: float) -> float:
    """The rate, or half of it where the pulses are that."""
    half = np.abs(rates_hz - hz / 2) <= _BAND_HZ / 2
    twice = np.abs(rates_hz - hz) <= _BAND_HZ / 2
    slow = hz / 2 >= PULSES_HZ[0] and power[half].max() >= HALF_SHARE * power[twice].max()
    return float(rates_hz[half][np.argmax(power[half])]) if slow else hz


def _waving(track: Track) -> Track:
    """What is left of a track without its slow course."""
    slow = uniform_filter1d(track, max(3, round(1.0 / PULSES_HZ[0] / _STEP_S)), mode="nearest")
    return np.asarray(track - slow)


def _spectrum(track: Track) -> tuple[Track, Track]:
    padded = 8 * len(track)
    power = np.abs(np.fft.rfft(track * np.hanning(len(track)), padded)) ** 2
    return np.asarray(np.fft.rfftfreq(padded, _STEP_S), np.float64), np.asarray(power)


def _extent(track: Track, hz: float) -> float:
    """Half the peak-to-peak extent of the part that moves at a rate, by least squares in stretches
    of two cycles: a vibrato whose phase wanders is not averaged away."""
    length = max(8, round(2 / hz / _STEP_S))
    sizes = []
    for first in range(0, len(track) - length + 1, length):
        turn = 2 * np.pi * hz * _STEP_S * np.arange(length)
        basis = np.stack([np.cos(turn), np.sin(turn)], axis=1)
        fit = np.linalg.lstsq(basis, track[first : first + length], rcond=None)[0]
        sizes.append(float(np.hypot(*fit)))
    return float(np.median(sizes)) if sizes else 0.0


def _swelling(cents: Track, db: Track) -> Swelling:
    width = round(SMOOTH_S / _STEP_S)
    slow_cents = uniform_filter1d(cents, width, mode="nearest")
    slow_db = uniform_filter1d(db, width, mode="nearest")
    loudest = float(slow_db.max())
    moved_db = float(np.ptp(slow_db))
    slope = None
    if moved_db >= _LEAST_DB:
        about = slow_db - slow_db.mean()
        slope = float(about @ (slow_cents - slow_cents.mean()) / (about @ about))
    return Swelling(
        grew_db=loudest - float(slow_db[0]),
        fell_db=loudest - float(slow_db[-1]),
        cents_per_db=slope,
        moved_cents=float(np.ptp(slow_cents)),
    )
