"""Notes that are made slow to speak: between the stroke and the tone lies air, a swell, the octave,
a hush, or what a recorded slow note has there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from tests.bench.ear.fit.lines import onto
from tests.bench.ear.fit.voices import LEAD_S, RATE, VoiceNote, spoken_anew

Sound = NDArray[np.float64]
Dice = np.random.Generator

SHORTEST_S, LONGEST_S = 0.03, 0.2
"""Put before a tone."""
LEAD = round(LEAD_S * RATE)
OWN_S = (0.045, 0.25)
"""Recorded notes that take so long to speak lend others their beginnings."""
SHARES = {0.0: 0.25, 0.15: 0.35, 0.35: 0.25, 1.0: 0.15}
"""Of a line's pitches so many are slow, and how often."""
EACH_TIME = 0.85
"""So often a slow pitch is slow."""


@dataclass(frozen=True)
class Slowness:
    """How one pitch of a line is slow."""

    manner: str
    seconds: float


def spoken_slowly(
    voice: Sequence[VoiceNote], manners: Sequence[str], dice: Dice
) -> Callable[[VoiceNote], VoiceNote]:
    """How the notes of a line speak: some of its pitches slowly, as a rule each time."""
    shares = list(SHARES)
    share = shares[int(dice.choice(len(shares), p=list(SHARES.values())))]
    slow_ones = [note for note in voice if OWN_S[0] <= note.slow_s <= OWN_S[1]]
    known: dict[int, Slowness | None] = {}

    def spoken(note: VoiceNote) -> VoiceNote:
        midi = round(note.midi)
        if midi not in known:
            manner = str(dice.choice(list(manners)))
            seconds = np.exp(dice.uniform(np.log(SHORTEST_S), np.log(LONGEST_S)))
            known[midi] = Slowness(manner, float(seconds)) if dice.random() < share else None
        how = known[midi]
        if how is None or dice.random() > EACH_TIME:
            return note
        return slowed(note, how.manner, how.seconds * dice.lognormal(0, 0.15), slow_ones, dice)

    return spoken


def slowed(
    note: VoiceNote, manner: str, seconds: float, slow_ones: Sequence[VoiceNote], dice: Dice
) -> VoiceNote:
    """The note with so long between its stroke and its tone; slow_ones: whose beginnings may be
    lent to it."""
    if manner == "own" and slow_ones:
        sound = _lent(note, slow_ones, dice)
    elif manner == "swell":
        sound = _swelling(note, round(1.6 * seconds * RATE), dice)
    else:
        sound = _after(note, MANNERS.get(manner, _air)(note, round(seconds * RATE), dice), dice)
    return spoken_anew(note, sound)


def _air(note: VoiceNote, count: int, dice: Dice) -> Sound:
    """Air that sways, a little of the tone in it or none, after a consonant or none."""
    air = _blown(count, dice) * _loud(note) * 10 ** (-dice.uniform(10.5, 22) / 20)
    if dice.random() < 0.6:
        air += _tone(note, count) * 10 ** (-dice.uniform(14, 30) / 20)
    air *= _swaying(count, dice.uniform(1, 5), dice)
    return _with_consonant(note, air, dice.uniform(-25, 0), dice)


def _octave(note: VoiceNote, count: int, dice: Dice) -> Sound:
    """The octave above speaks first, softly, in some air."""
    part = note.samples[round((note.speaks_s + 0.03) * RATE) :][: 2 * count + 2]
    whole = np.resize(part, 2 * count + 2).astype(np.float64)
    upper = whole[::2][:count] * 10 ** (-dice.uniform(11, 19) / 20)
    air = _blown(count, dice) * _loud(note) * 10 ** (-dice.uniform(18, 34) / 20)
    return _with_consonant(note, (upper + air) * _swaying(count, 3, dice), -12, dice)


def _hush(note: VoiceNote, count: int, dice: Dice) -> Sound:
    """The tongue alone, then next to nothing."""
    air = _blown(count, dice) * _loud(note) * 10 ** (-dice.uniform(25, 45) / 20)
    head = _with_consonant(note, air, 0, dice)
    loudest = max(_rms(head[first : first + 512]) for first in range(0, max(1, count - 512), 64))
    return head * _loud(note) * 10 ** (-dice.uniform(10.5, 18) / 20) / (loudest + 1e-9)


def _swelling(note: VoiceNote, count: int, dice: Dice) -> Sound:
    """The tone swells out of little, its consonant left as it is or not."""
    sound = note.samples.astype(np.float64)
    share = np.clip((np.arange(sound.size) - note.stroke_s * RATE) / count, 0, 1)
    softer_db = dice.uniform(14, 24) * (1 - share ** dice.uniform(0.5, 2.0))
    swelled = sound * 10 ** (-softer_db / 20)
    if dice.random() < 0.5:
        sos = signal.butter(2, dice.uniform(2500, 6000), "highpass", fs=RATE, output="sos")
        bright = signal.sosfilt(sos, sound)
        swelled += bright * (1 - 10 ** (-softer_db / 20)) * dice.uniform(0, 1)
    return swelled


def _lent(note: VoiceNote, slow_ones: Sequence[VoiceNote], dice: Dice) -> Sound:
    """With the beginning of a recorded slow note, one of the three nearest in pitch."""
    near = sorted(slow_ones, key=lambda one: abs(one.midi - note.midi))[:3]
    slow = near[int(dice.integers(len(near)))]
    step = 2 ** ((note.midi - slow.midi) / 12)
    over = round(0.03 * RATE)
    places = np.arange(int((slow.speaks_s * RATE + over * step) / step)) * step
    head = np.interp(places, np.arange(slow.samples.size), slow.samples)
    rest = note.samples[round(note.speaks_s * RATE) + over :].astype(np.float64)
    head *= _rms(rest[:over]) / (_rms(head[-over:]) + 1e-9)
    whole, _ = onto(head, rest, 440 * 2 ** ((note.midi - 69) / 12))
    return whole


MANNERS: dict[str, Callable[[VoiceNote, int, Dice], Sound]] = {
    "air": _air,
    "octave": _octave,
    "hush": _hush,
}
EVERY = (*MANNERS, "swell", "own")
"""Each manner in which a note may be slow."""


def _after(note: VoiceNote, head: Sound, dice: Dice) -> Sound:
    """A note after what comes before its tone; of its own rise all or a part is left."""
    first = round((note.stroke_s + dice.uniform(0, 1) * note.slow_s) * RATE)
    rest = note.samples[first:].astype(np.float64)
    lap = min(round(dice.uniform(0.004, 0.03) * RATE), rest.size // 2)
    whole = np.concatenate([np.zeros(LEAD), head, np.zeros(rest.size)])
    share = np.ones(rest.size)
    share[:lap] = np.linspace(0, 1, lap) ** 2
    at = LEAD + head.size
    whole[at : at + rest.size] += rest * share
    return whole


def _with_consonant(note: VoiceNote, head: Sound, level_db: float, dice: Dice) -> Sound:
    """The head with the note's own first milliseconds, without the tone that follows them."""
    fade = min(head.size, round(dice.uniform(0.002, 0.015) * RATE))
    head[:fade] *= np.linspace(0, 1, fade)
    first = max(0, round(note.stroke_s * RATE) - 100)
    part = note.samples[first : first + round(dice.uniform(0.012, 0.03) * RATE)]
    sos = signal.butter(2, dice.uniform(800, 4000), "highpass", fs=RATE, output="sos")
    part = signal.sosfilt(sos, part.astype(np.float64))[: head.size]
    part *= np.linspace(1, 0, part.size) ** 2 * 10 ** (level_db / 20)
    head[: part.size] += part
    return head


def _blown(count: int, dice: Dice) -> Sound:
    """Air of unit power."""
    edges = float(dice.uniform(300, 2500)), float(dice.uniform(6000, 13000))
    sos = signal.butter(1, edges, "bandpass", fs=RATE, output="sos")
    air = signal.sosfilt(sos, dice.standard_normal(count + 500))[500:]
    return np.asarray(air / (air.std() + 1e-12))


def _swaying(count: int, by_db: float, dice: Dice) -> Sound:
    points = dice.standard_normal(max(4, count // round(0.02 * RATE)))
    sway = np.interp(np.linspace(0, 1, count), np.linspace(0, 1, points.size), points)
    return np.asarray(10 ** (by_db * sway / 20))


def _tone(note: VoiceNote, count: int) -> Sound:
    """A little of the standing tone."""
    part = note.samples[round((note.speaks_s + 0.05) * RATE) :][:count]
    return np.resize(part, count).astype(np.float64)


def _loud(note: VoiceNote) -> float:
    speaks = round(note.speaks_s * RATE)
    return _rms(note.samples[speaks : speaks + round(0.3 * RATE)])


def _rms(part: NDArray[np.floating]) -> float:
    return float(np.sqrt(np.mean(part.astype(np.float64) ** 2)))
