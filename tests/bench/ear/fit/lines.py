"""Lines whose every start is known: recorded and sampled notes joined, made flutes, passages.

Struck notes keep their own attack. Slurs go from the sustained part of one note to that of the
next. Most go as those of the recorded legato phrases fitted on (medians over leaps): the old tone
falls from 24 ms before the change and is 10 to 15 dB down 10 ms after it, the new one stands at
-7 dB 16 ms after it, at -3 dB after 32 ms and is full after 60 ms, its upper harmonics last; the
band above 8 kHz, which is breath, falls by 2 to 4 dB and never rises. Others dip more briefly, as
trills do, or enter the later part of a note's own rise, its consonant taken away.

Spliced lines hold no made slur: a struck note goes over, inside its steady part, into the same
pitch of a recorded slurred passage, and what that passage plays next is what was really slurred.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from tests.bench.ear.fit.voices import RATE, Passage, PassageNote, VoiceNote
from tests.ear.made_flute import Blown, as_expected, blown, manner, scale, sounded
from trainer.music.note import Start
from trainer.music.tuning import Tuning
from trainer.player.flutist import Flutist

Sound = NDArray[np.float64]
Dice = np.random.Generator

LEVEL = 0.08
FIRST_S = 0.35
SUSTAINED_S = 0.1
AIR = signal.butter(1, (1000, 9000), "bandpass", fs=RATE, output="sos")
S, T, L, B = Start.SLURRED, Start.TONGUED, Start.LEGATO_TONGUE, Start.BREATH
PATTERNS: tuple[tuple[Start, ...], ...] = (
    (T, S, T, T),
    (T, S, S, T),
    (T, T, S, S),
    (T, S, S, S),
    (T, S),
    (S, T),
    (T, S, S),
    (T, T, S),
    (L, S),
    (L, S, S),
    (L, L, S, S),
    (L, S, S, S),
)


@dataclass(frozen=True)
class TrueStart:
    """One note of a line; seconds from its first sample."""

    midi: float
    stroke_s: float
    speaks_s: float
    start: Start


@dataclass(frozen=True)
class Line:
    """Sound before any room, and what is true of it."""

    source: str
    samples: Sound
    rate: int
    notes: tuple[TrueStart, ...]
    """Empty for a passage, where only `every` is known."""
    every: Start | None = None
    """Of a passage: how all its changes of pitch start."""
    one_note: bool = False
    """Of a passage: whether nothing but one note sounds."""


def starts(count: int, dice: Dice) -> list[Start]:
    """How the notes of a line start: all alike, in a pattern, or in any order."""
    chance = dice.random()
    if chance < 0.2:
        chosen = [S] * count
    elif chance < 0.36:
        chosen = [T] * count
    elif chance < 0.44:
        chosen = [L] * count
    elif chance < 0.47:
        chosen = [B] * count
    elif chance < 0.8:
        pattern = PATTERNS[int(dice.integers(len(PATTERNS)))]
        shift = int(dice.integers(len(pattern)))
        chosen = [pattern[(n + shift) % len(pattern)] for n in range(count)]
    else:
        chosen = [(S, T, L, B)[k] for k in dice.choice(4, count, p=(0.48, 0.36, 0.13, 0.03))]
    return chosen


def stitched(
    source: str,
    voice: Sequence[VoiceNote],
    dice: Dice,
    given: Sequence[Start] | None = None,
    *,
    repeated: float | None = None,
    other: float = 0.0,
) -> Line:
    """Notes of one voice joined into a line; given: how they start; repeated: the share of struck
    notes that have the pitch of the one before; other: how often its attacks are another's."""
    by_midi: dict[int, list[VoiceNote]] = {}
    for note in voice:
        by_midi.setdefault(round(note.midi), []).append(note)
    if repeated is None:
        repeated = 0.75 if given is None and dice.random() < 0.3 else 0.0
    count = int(dice.integers(9, 18))
    kinds = starts(count, dice) if given is None else list(given[:count])
    if repeated:
        kinds = [T if kind is S and dice.random() < 0.7 else kind for kind in kinds]
    keys = sorted(by_midi)
    if given is None:
        by_midi |= {m: by_midi[_next_to(m, keys)] for m in range(keys[0], keys[-1])}
    midis = _walk(sorted(by_midi), kinds, repeated, dice)
    step_s = float(np.exp(dice.uniform(np.log(0.085), np.log(0.42))))
    attack = attacks(dice) if given is None and dice.random() < other else AS_RECORDED
    at, line = round(FIRST_S * RATE), _Growing(round((FIRST_S + 1.3 * step_s * count + 1.5) * RATE))
    quick = dice.random() < 0.6
    interrupted = 0.12 if set(kinds) == {S} else 0.03
    truths: list[TrueStart] = []
    for number, (midi, kind) in enumerate(zip(midis, kinds, strict=True)):
        notes = by_midi[midi]
        if quick or kind is L:
            notes = [n for n in notes if n.slow_s < 0.035] or notes
        note = attacked(notes[int(dice.integers(len(notes)))], attack, kind, dice)
        length_s = step_s * float(dice.uniform(0.85, 1.15)) * (2.5 if dice.random() < 0.04 else 1)
        target = midi + float(dice.normal(0, 0.1))
        kind = T if number == 0 and kind is S else kind
        before = truths[-1] if truths else None
        if kind is S and before is not None:
            truth = _slur(line, note, target, at, length_s, before.midi, interrupted, dice)
        elif kind is B:
            truth = _breath(line, note, target, at, length_s, dice)
        else:
            rest = number > 0 and dice.random() < 0.04
            truth = _stroke(line, note, target, at, length_s, kind, rest, dice)
        truths.append(truth)
        at += round(length_s * RATE)
    line.stop(at, round(dice.uniform(0.008, 0.04) * RATE))
    return Line(source, line.sound[: at + round(0.5 * RATE)], RATE, tuple(truths))


SPLICED_APART_S = 0.15
"""Notes of a passage further apart are not slurred."""
SPLICED_CLEAR_S = 0.03
"""The nearest to a real seam that a splice may lie."""


def spliced(source: str, found: Passage, voice: Sequence[VoiceNote], dice: Dice) -> Line:
    """Struck notes of a voice, going over into slurs as they stand in a passage, or into its soft
    strokes."""
    joins = L if found.kind == "soft" else S
    shift = int(dice.integers(-3, 4))
    voice = [n for n in voice if n.slow_s < 0.035] if dice.random() < 0.5 else voice
    slurs_after = _slur_counts(dice)
    joints = seams_inside(found)
    wanted, slow = int(dice.integers(9, 18)), float(np.exp(dice.uniform(np.log(0.6), np.log(1.5))))
    line, at = _Growing(round(14 * RATE)), round(FIRST_S * RATE)
    truths: list[TrueStart] = []
    while len(truths) < wanted and at < 10 * RATE:
        slurs = slurs_after(len(truths))
        first = joints[int(dice.integers(len(joints)))]
        head = found.notes[first]
        midi = head.midi + shift
        note = _nearest(voice, midi, dice)
        length_s = float(np.clip(head.to_s - head.from_s, 0.1, 0.35)) * slow
        kind = L if dice.random() < 0.08 else T
        truths.append(_stroke(line, note, midi, at, length_s, kind, False, dice))
        at += round(length_s * RATE)
        while slurs and first in joints:
            before, after = found.notes[first], found.notes[first + 1]
            length_s = float(np.clip(after.to_s - after.from_s, 0.1, 0.35)) * slow
            more = _nearest(voice, after.midi + shift, dice)
            seam_s = _splice(line, found, before, after, more, shift, at, length_s, dice)
            truths.append(TrueStart(after.midi + shift, seam_s, seam_s, joins))
            at += round(length_s * RATE)
            first, slurs = first + 1, slurs - 1
    line.stop(at, round(dice.uniform(0.008, 0.04) * RATE))
    return Line(source, line.sound[: at + round(0.5 * RATE)], RATE, tuple(truths))


def seams_inside(found: Passage) -> list[int]:
    """Which of a passage's notes are slurred to the next."""
    return [
        number
        for number, (a, b) in enumerate(pairwise(found.notes))
        if b.from_s - a.to_s < SPLICED_APART_S and abs(b.midi - a.midi) > 0.6
    ]


def _slur_counts(dice: Dice) -> Callable[[int], int]:
    """How many slurs follow the next stroke."""
    chance = dice.random()
    if chance < 0.35:
        each = int(dice.integers(1, 5))
        return lambda _: each
    if chance < 0.6:
        alone = int(dice.integers(1, 3))
        return lambda number: 0 if number % (alone + 2) < alone else 1
    return lambda _: int(dice.choice([0, 1, 2, 3, 6], p=(0.4, 0.25, 0.15, 0.1, 0.1)))


def _nearest(voice: Sequence[VoiceNote], midi: float, dice: Dice) -> VoiceNote:
    """One of the few notes nearest in pitch."""
    near = sorted(voice, key=lambda note: abs(note.midi - midi))[:4]
    return near[int(dice.integers(len(near)))]


def _splice(
    line: _Growing,
    found: Passage,
    before: PassageNote,
    after: PassageNote,
    more: VoiceNote,
    shift: int,
    at: int,
    length_s: float,
    dice: Dice,
) -> float:
    """Lay the slur between two notes of a passage so that it comes at `at`, seconds; what follows
    the passage's own second note is a voice's."""
    step = 2 ** (shift / 12)
    seam_s = (before.to_s + after.from_s) / 2
    ahead_s = min(float(dice.uniform(0.05, 0.1)), 0.7 * (before.to_s - before.from_s))
    ahead_s = max(ahead_s, seam_s - before.to_s + SPLICED_CLEAR_S)
    own_s = min(after.to_s - 0.015 - seam_s, float(dice.uniform(0.08, 0.3)))
    own_s = max(own_s, after.from_s - seam_s + SPLICED_CLEAR_S)
    places = (seam_s - ahead_s) * RATE + np.arange(int((ahead_s + own_s) / step * RATE)) * step
    cut = np.interp(places, np.arange(found.samples.size), found.samples)
    begin = at - round(ahead_s / step * RATE)
    hz = 440 * 2 ** ((before.midi + shift - 69) / 12)
    sounding = line.sound[max(0, begin - round(0.08 * RATE)) : begin]
    was = np.sqrt(np.mean(sounding[-round(0.03 * RATE) :] ** 2))
    now = np.sqrt(np.mean(cut[: round(0.02 * RATE)] ** 2))
    whole, skipped = _onto(sounding, cut * (was / (now + 1e-9)), hz)
    wanted = sounding.size + round((ahead_s / step + length_s + 0.15) * RATE)
    if whole.size < wanted:
        hz = 440 * 2 ** ((after.midi + shift - 69) / 12)
        rest = _sustained(more, after.midi + shift, (wanted - whole.size) / RATE + 0.05, dice)
        was = np.sqrt(np.mean(whole[-round(0.03 * RATE) :] ** 2))
        rest *= was / (np.sqrt(np.mean(rest[: round(0.03 * RATE)] ** 2)) + 1e-9)
        whole, _ = _onto(whole, rest, hz)
    first = begin - sounding.size
    line.sound[first:] = 0
    line.add(first, whole)
    return (at - skipped) / RATE


def _onto(sound: Sound, part: Sound, hz: float) -> tuple[Sound, int]:
    """One sound going over into another of the same pitch where their waves agree best, and how
    many samples later than put the second one is."""
    lap = min(round(0.014 * RATE), sound.size // 2, part.size // 3)
    reach = min(round(RATE / hz) + 1, part.size - lap - 1)
    agree = np.lib.stride_tricks.sliding_window_view(part[: lap + reach], lap) @ sound[-lap:]
    first = int(agree.argmax())
    share = np.linspace(0, 1, lap)
    joint = sound[-lap:] * (1 - share) + part[first : first + lap] * share
    return np.concatenate([sound[:-lap], joint, part[first + lap :]]), first + lap


def _next_to(midi: int, keys: Sequence[int]) -> int:
    """The nearest pitch that a voice has."""
    return min(keys, key=lambda key: abs(key - midi))


def _walk(keys: list[int], kinds: Sequence[Start], repeated: float, dice: Dice) -> list[int]:
    midi = int(dice.choice(keys))
    midis = [midi]
    reach = int(dice.choice([1, 2, 4, 7, 13], p=(0.14, 0.2, 0.18, 0.18, 0.3)))
    wide = reach == 13 and dice.random() < 0.6
    for kind in kinds[1:]:
        if not (repeated and kind is not S and dice.random() < repeated):
            others = [k for k in keys if k != midi]
            near = [
                k for k in others if abs(k - midi) <= reach and not (wide and abs(k - midi) < 5)
            ]
            midi = int(dice.choice(near or sorted(others, key=lambda k: abs(k - midi))[:2]))
        midis.append(midi)
    return midis


class _Growing:
    """A sound that notes are laid into."""

    def __init__(self, size: int) -> None:
        self.sound: Sound = np.zeros(size)

    def add(self, first: int, part: Sound) -> None:
        if first < 0:
            first, part = 0, part[-first:]
        part = part[: self.sound.size - first]
        self.sound[first : first + part.size] += part

    def stop(self, at: int, fade: int) -> None:
        """Nothing sounds from a sample on; before it what sounded fades."""
        fade = min(fade, at)
        self.sound[at - fade : at] *= np.cos(np.linspace(0, np.pi / 2, fade))
        self.sound[at:] = 0


def _tuned(note: VoiceNote, midi: float, from_s: float, length_s: float) -> Sound:
    """A stretch of a note at another pitch; shorter where it ends."""
    step = 2 ** ((midi - note.midi) / 12)
    first = max(0.0, from_s) * RATE
    count = min(round(length_s * RATE), int((note.samples.size - first) / step) - 2)
    places = first + np.arange(max(count, 0)) * step
    return np.interp(places, np.arange(note.samples.size), note.samples)


def _levelled(part: Sound, steady: Sound, dice: Dice) -> Sound:
    level = np.sqrt(np.mean(steady**2)) + 1e-6 if steady.size else 1.0
    return part * (LEVEL / level * 10 ** (dice.normal(0, 1.5) / 20))


def _sustained(note: VoiceNote, midi: float, length_s: float, dice: Dice) -> Sound:
    """Out of the middle of a note; looped back and forth where it is too short."""
    after_s = note.speaks_s + SUSTAINED_S * float(dice.uniform(0.6, 1.5))
    end_s = note.samples.size / RATE - 0.06
    after_s = min(after_s, max(note.speaks_s + 0.04, end_s - length_s))
    part = _tuned(note, midi, after_s, min(length_s, end_s - after_s))
    wanted = round(length_s * RATE)
    if part.size < 0.05 * RATE:
        part = _tuned(note, midi, note.speaks_s, length_s)
    lap = min(part.size // 3, round(0.012 * RATE))
    whole = part
    while whole.size < wanted and lap > 10:
        turn = np.linspace(0, np.pi / 2, lap)
        joint = whole[-lap:] * np.cos(turn) + part[:lap] * np.sin(turn)
        whole = np.concatenate([whole[:-lap], joint, part[lap:]])
    return whole[:wanted]


def _slur(
    line: _Growing,
    note: VoiceNote,
    midi: float,
    at: int,
    length_s: float,
    before_midi: float,
    interrupted: float,
    dice: Dice,
) -> TrueStart:
    if dice.random() < 0.35:
        # the later part of the note's own rise, without what the consonant leaves above 4 kHz
        lead_s = float(dice.uniform(-0.02, 0.05))
        new = _tuned(note, midi, note.speaks_s + lead_s, length_s + 0.1)
        new = _levelled(new, new[round(0.05 * RATE) :], dice)
        dull = signal.sosfilt(
            signal.butter(4, dice.uniform(3500, 8000), fs=RATE, output="sos"), new
        )
        share = np.clip(np.arange(new.size) / (dice.uniform(0.03, 0.07) * RATE), 0, 1)
        new = dull + (new - dull) * share**2
    else:
        new = _sustained(note, midi, length_s + 0.1, dice)
        new = _levelled(new, new, dice)
    leap = abs(midi - before_midi)
    if dice.random() < 0.65:
        _grown_into(line, new, midi, at, leap, dice)
    else:
        _dipped_into(line, new, midi, at, leap, dice)
    if leap > 0.6 and dice.random() < 0.14:
        _blip(line, note, before_midi, midi, at, dice)
    if dice.random() < 0.4:
        _key(line, at, dice)
    if dice.random() < interrupted * (1 + min(leap, 12) / 6):
        # air that falters, as in the recorded phrases over leaps: deep, and without a consonant
        width = round(float(np.exp(dice.uniform(np.log(0.025), np.log(0.08)))) * RATE)
        _dip(line, at - round(dice.uniform(0, 0.012) * RATE), width, dice.uniform(9, 26), dice)
    return TrueStart(midi, at / RATE, at / RATE, S)


def _grown_into(line: _Growing, new: Sound, midi: float, at: int, leap: float, dice: Dice) -> None:
    """The old tone dies away while the new one grows; the breath above both goes on."""
    lead_s, ahead_s = float(dice.uniform(0.002, 0.028)), float(dice.uniform(0.0, 0.018))
    slow = 1 + min(leap, 12) / 12
    old_s = float(np.exp(dice.uniform(np.log(0.005), np.log(0.022))))
    new_s = float(np.exp(dice.uniform(np.log(0.004), np.log(0.017)))) * slow
    upper_s = new_s * float(dice.uniform(1.0, 3.0))
    full_s = float(dice.uniform(0.03, 0.09))
    share = float(dice.uniform(0.45, 1.0) - min(leap, 8) / 8 * dice.uniform(0.1, 0.3))
    first = at - round(0.045 * RATE)
    time_s = (np.arange(new.size) + first - at) / RATE
    filling = share + (1 - share) * np.clip((time_s + ahead_s) / full_s, 0, 1)
    new_low = _grown(time_s + ahead_s, new_s) * filling
    new_middle = _grown(time_s + ahead_s, upper_s) * filling ** dice.uniform(1, 2)
    base_hz = min(dice.uniform(1.4, 3.5) * 440 * 2 ** ((midi - 69) / 12), 4500.0)
    breath_hz = float(dice.uniform(5500, 9000))
    low, middle, breath = _in_bands(new, base_hz, breath_hz)
    fade = np.clip((time_s + 0.02) / float(dice.uniform(0.01, 0.05)), 0, 1)
    # most often a little calmer, in leaps up to high notes also stronger for a moment
    there = 10 ** (float(dice.normal(-1.0 + 0.15 * leap * (midi > 76), 2.5)) / 20)
    about_s = float(dice.normal(-0.004, 0.012))
    calm = 1 + (there - 1) * np.exp(-(((time_s - about_s) / dice.uniform(0.015, 0.04)) ** 2))
    breathing = np.sin(fade * np.pi / 2) * calm
    new = low * new_low + middle * new_middle + breath * breathing
    old = line.sound[first : first + min(round(0.25 * RATE), new.size)].copy()
    old_low, old_middle, old_breath = _in_bands(old, base_hz, breath_hz)
    if dice.random() < 0.5:
        # notes of one loudness: the breath goes on as strong
        was = np.sqrt(np.mean(old_breath[: round(0.05 * RATE)] ** 2))
        new += breath * (was / (np.sqrt(np.mean(breath**2)) + 1e-9) - 1) * breathing
    time_s = time_s[: old.size]
    dying = np.exp(-np.maximum(0.0, time_s + lead_s) / old_s)
    fade, calm = fade[: old.size], calm[: old.size]
    old = (old_low + old_middle) * dying + old_breath * np.cos(fade * np.pi / 2) * calm
    line.sound[first:] = 0
    line.add(first, old * np.clip(np.arange(old.size)[::-1] / (0.02 * RATE), 0, 1))
    line.add(first, new)


def _grown(since_s: Sound, over_s: float) -> Sound:
    return np.asarray(1 - np.exp(-np.maximum(0.0, since_s) / over_s))


def _in_bands(sound: Sound, low_hz: float, high_hz: float) -> tuple[Sound, Sound, Sound]:
    """Below, between and above two frequencies; they add up to the sound."""
    low = signal.sosfilt(signal.butter(2, low_hz, fs=RATE, output="sos"), sound)
    up_to = signal.sosfilt(signal.butter(4, high_hz, fs=RATE, output="sos"), sound)
    return low, up_to - low, sound - up_to


def _dipped_into(line: _Growing, new: Sound, midi: float, at: int, leap: float, dice: Dice) -> None:
    """One tone faded into the other, and the level of both dips about the change."""
    fade = round(float(np.exp(dice.uniform(np.log(0.003), np.log(0.032)))) * RATE)
    first = at - fade // 2
    if dice.random() < 0.35:
        new = _spoken_late(new, midi, dice)
    fade = min(fade, new.size // 2)
    turn = np.linspace(0, np.pi / 2, fade)
    new[:fade] *= np.sin(turn)
    old = line.sound[first : first + fade] * np.cos(turn)
    line.sound[first:] = 0
    line.add(first, old)
    line.add(first, new)
    if dice.random() < 0.85:
        dip_db = float(np.clip(dice.normal(3.5 + 0.9 * leap, 3.5), 0.5, 20))
        width = round(float(np.exp(dice.uniform(np.log(0.012), np.log(0.09)))) * RATE)
        _dip(line, at + round(dice.normal(0.001, 0.005) * RATE), width, dip_db, dice)


def _spoken_late(new: Sound, midi: float, dice: Dice) -> Sound:
    """A tone whose upper harmonics, or whose fundamental, come later than the rest."""
    hz = min(1.5 * 440 * 2 ** ((midi - 69) / 12), 0.4 * RATE)
    low = signal.sosfilt(signal.butter(3, hz, fs=RATE, output="sos"), new)
    share = np.clip(np.arange(new.size) / (dice.uniform(0.01, 0.06) * RATE), 0, 1)
    least = dice.uniform(0.05, 0.6)
    share = least + (1 - least) * share
    return low + (new - low) * share if dice.random() < 0.6 else low * share + (new - low)


def _blip(
    line: _Growing, note: VoiceNote, before_midi: float, midi: float, at: int, dice: Dice
) -> None:
    """Another pitch for a moment, as fingers move apart."""
    low, high = sorted((before_midi, midi))
    other = float(dice.choice([low - 1, (low + high) / 2, high + 1, high + 12, low - 12]))
    part = _sustained(note, other, float(dice.uniform(0.01, 0.03)), dice)
    part = _levelled(part, part, dice) * np.hanning(part.size) * 10 ** (dice.uniform(-12, 0) / 20)
    first = at - part.size // 2
    line.sound[first : first + part.size] *= 1 - 0.8 * np.hanning(part.size)
    line.add(first, part)


def _dip(line: _Growing, middle: int, width: int, dip_db: float, dice: Dice) -> None:
    place = np.linspace(0, 1, width)
    if dice.random() < 0.5:
        place = place ** float(dice.uniform(0.5, 1.8))
    shape = np.sin(np.pi * place) ** float(dice.choice([1, 2, 4]))
    first = max(0, middle - width // 2)
    part = line.sound[first : first + width]
    part *= 10 ** (-dip_db * shape[: part.size] / 20)


def _key(line: _Growing, at: int, dice: Dice) -> None:
    length = round(dice.uniform(0.003, 0.015) * RATE)
    edges = (300.0, float(dice.uniform(2000, 9000)))
    noise = dice.standard_normal(length + 400)
    noise = signal.sosfilt(signal.butter(2, edges, "bandpass", fs=RATE, output="sos"), noise)[400:]
    noise *= np.hanning(length) / (noise.std() + 1e-12)
    line.add(
        at - round(dice.uniform(-0.005, 0.025) * RATE),
        noise * LEVEL * 10 ** (-dice.uniform(22, 42) / 20),
    )


def _stroke(
    line: _Growing,
    note: VoiceNote,
    midi: float,
    at: int,
    length_s: float,
    kind: Start,
    rest: bool,
    dice: Dice,
) -> TrueStart:
    """A note with its own attack; the one before stops about its stroke or its speaking."""
    step = 2 ** ((midi - note.midi) / 12)
    sound = _tuned(note, midi, 0.0, length_s + note.speaks_s / step + 0.15)
    wanted = round((length_s + 0.12) * RATE) + round(note.speaks_s / step * RATE)
    if sound.size < wanted:
        more = _sustained(note, midi, (wanted - sound.size) / RATE + 0.08, dice)
        lap = round(0.02 * RATE)
        turn = np.linspace(0, np.pi / 2, lap)
        keep = max(lap, sound.size - lap)
        tail = sound[keep - lap : keep] * np.cos(turn)
        sound = np.concatenate([sound[: keep - lap], tail + more[:lap] * np.sin(turn), more[lap:]])
    speaks = round(note.speaks_s / step * RATE)
    stroke = round(note.stroke_s / step * RATE)
    sound = _levelled(sound, sound[speaks : speaks + round(0.3 * RATE)], dice)
    if kind is L:
        # the old tone goes on up to the stroke, and the stroke is left whole
        gap_s, fade_s = float(dice.uniform(-0.014, 0.006)), float(dice.uniform(0.006, 0.022))
        cut = max(0, min(stroke, speaks) - round(dice.uniform(0.001, 0.008) * RATE))
        sound, stroke, speaks = sound[cut:], max(stroke - cut, 0), speaks - cut
        rise = min(round(dice.uniform(0.001, 0.004) * RATE), sound.size)
        sound[:rise] *= np.linspace(0, 1, rise)
    else:
        gap_s = float(dice.uniform(0, 0.045) if dice.random() < 0.85 else dice.uniform(0.045, 0.13))
        fade_s = float(dice.uniform(0.006, 0.03))
    if rest:
        gap_s = float(dice.uniform(0.15, 0.4) * min(1.0, length_s / 0.3))
    from_stroke = kind is L or dice.random() < 0.5
    stops = at - round(gap_s * RATE) - (speaks - stroke if from_stroke else 0)
    if at > round(FIRST_S * RATE):
        line.stop(max(stops, 1), round(fade_s * RATE))
    line.add(at - speaks, sound)
    return TrueStart(midi, (at - speaks + stroke) / RATE, at / RATE, kind)


def _breath(
    line: _Growing, note: VoiceNote, midi: float, at: int, length_s: float, dice: Dice
) -> TrueStart:
    """Air first, then a tone that swells."""
    rise_s = float(dice.uniform(0.05, 0.13)) * min(1.0, length_s / 0.2)
    sound = _sustained(note, midi, length_s + 0.05, dice)
    sound = _levelled(sound, sound, dice)
    rise = min(round(rise_s * RATE), sound.size)
    sound[:rise] *= 0.5 - 0.5 * np.cos(np.linspace(0, np.pi, rise))
    gap_s = float(dice.uniform(0.01, 0.06)) * min(1.0, length_s / 0.15)
    if at > round(FIRST_S * RATE):
        line.stop(at - round(gap_s * RATE), round(dice.uniform(0.01, 0.04) * RATE))
    air = dice.standard_normal(rise + round(0.1 * RATE))
    edges = (float(dice.uniform(500, 2500)), float(dice.uniform(7000, 12000)))
    air = signal.sosfilt(signal.butter(1, edges, "bandpass", fs=RATE, output="sos"), air)
    swell = np.sin(np.linspace(0, np.pi, air.size)) ** 2
    ahead = round(dice.uniform(0, 0.02) * RATE)
    line.add(at - ahead, air / air.std() * swell * LEVEL * 10 ** (-dice.uniform(24, 42) / 20))
    line.add(at, sound)
    return TrueStart(midi, (at - ahead) / RATE, (at + 0.5 * rise) / RATE, B)


NEAR_PITCH = 2.2
"""Semitones by which a note may be tuned to another's pitch."""


def struck_again(source: str, voice: Sequence[VoiceNote], dice: Dice) -> Line:
    """One pitch struck again and again, two and a half to ten times a second: all strokes even,
    some left out, or a few among held notes; with vibrato and swells or without."""
    midi = voice[int(dice.integers(len(voice)))].midi + float(dice.normal(0, 0.1))
    pool = [n for n in voice if abs(n.midi - midi) < NEAR_PITCH]
    if dice.random() < 0.6:
        pool = [n for n in pool if n.slow_s < 0.035] or pool
    step_s = 1 / float(np.exp(dice.uniform(np.log(2.5), np.log(10))))
    kind = (T, L, B)[int(dice.choice(3, p=(0.8, 0.15, 0.05)))]
    double, steady = dice.random() < 0.4, float(dice.choice([0.015, 0.05, 0.15]))
    line, at = _Growing(round(14 * RATE)), round(FIRST_S * RATE)
    truths: list[TrueStart] = []
    steps = _steps_held(dice)
    while at < 6 * RATE and len(truths) < 24:
        note = pool[int(dice.integers(len(pool)))]
        if double and len(truths) % 2:
            note = _struck_behind(note, dice)
        length_s = step_s * steps() * float(np.clip(dice.normal(1, steady), 0.6, 1.5))
        rest = len(truths) > 0 and dice.random() < 0.04
        target = midi + float(dice.normal(0, 0.05))
        truths.append(_stroke(line, note, target, at, length_s, kind, rest, dice))
        at += round(length_s * RATE)
    line.stop(at, round(dice.uniform(0.008, 0.06) * RATE))
    sound = line.sound[: at + round(0.6 * RATE)]
    if dice.random() < 0.4:
        sound = _swayed(sound, round(FIRST_S * RATE), dice)
    return Line(source + " again", sound, RATE, tuple(truths))


def _steps_held(dice: Dice) -> Callable[[], int]:
    """For how many steps the next note is held."""
    chance = dice.random()
    if chance < 0.55:
        return lambda: 1
    if chance < 0.75:
        left_out = dice.uniform(0.08, 0.4)
        return lambda: 1 + int(dice.random() < left_out)
    return lambda: int(dice.choice([1, 2, 4, 7, 12], p=(0.4, 0.15, 0.15, 0.15, 0.15)))


def _struck_behind(note: VoiceNote, dice: Dice) -> VoiceNote:
    """The note with a softer consonant, as the back of a tongue gives it."""
    dull = signal.sosfilt(
        signal.butter(2, dice.uniform(2500, 6000), fs=RATE, output="sos"), note.samples
    )
    time_s = np.arange(note.samples.size) / RATE
    share = np.clip((time_s - note.speaks_s - 0.02) / 0.03, 0, 1)
    share = 1 - (1 - share) * dice.uniform(0, 0.8)
    return replace(note, samples=(dull + (note.samples - dull) * share).astype(np.float32))


@dataclass(frozen=True)
class Attack:
    """What a player's notes have that those of a voice haven't, all through a line."""

    rises_s: float = 0.0
    """A stroke without a consonant: the tone fades in over so long."""
    dull_hz: float = 0.0
    """Nothing above it sounds until then."""
    air_db: float = -np.inf
    """The breath that goes with every tone, against it."""


AS_RECORDED = Attack()


def attacks(dice: Dice) -> Attack:
    """Strokes without a consonant, breathy tones, or both."""
    plain, airy = [(True, False), (False, True), (True, True)][int(dice.integers(3))]
    return Attack(
        float(dice.uniform(0.006, 0.035)) if plain else 0.0,
        float(dice.uniform(2500, 6000)),
        float(dice.uniform(-36, -20)) if airy else -np.inf,
    )


def attacked(note: VoiceNote, attack: Attack, kind: Start, dice: Dice) -> VoiceNote:
    """The note as such a player begins it. A soft stroke keeps its consonant: without one it would
    be a slur to anyone."""
    if attack is AS_RECORDED:
        return note
    sound = note.samples.astype(np.float64)
    since_s = np.arange(sound.size) / RATE - note.stroke_s
    stroke_s, speaks_s = note.stroke_s, note.speaks_s
    if attack.rises_s and kind is not L:
        share = np.clip(since_s / attack.rises_s, 0, 1)
        low = signal.sosfilt(signal.butter(2, attack.dull_hz, fs=RATE, output="sos"), sound)
        sound = np.sin(share * np.pi / 2) ** 2 * (low + (sound - low) * share)
        stroke_s += 0.2 * attack.rises_s
        speaks_s = max(speaks_s, note.stroke_s + 0.6 * attack.rises_s)
    if attack.air_db > -np.inf:
        air = dice.standard_normal(sound.size)
        air = signal.sosfilt(AIR, air) * np.clip(since_s / 0.015, 0, 1)
        loud = np.sqrt(np.mean(sound**2)) / (np.sqrt(np.mean(air**2)) + 1e-9)
        sound += air * loud * 10 ** (attack.air_db / 20)
    return replace(note, samples=sound.astype(np.float32), stroke_s=stroke_s, speaks_s=speaks_s)


def held(source: str, voice: Sequence[VoiceNote], dice: Dice) -> Line:
    """A few long notes with vibrato, swells and unsteady air: nothing starts inside them."""
    long = [n for n in voice if n.samples.size > 1.1 * RATE] or list(voice)
    line = _Growing(round(9 * RATE))
    at, truths = round(FIRST_S * RATE), []
    for _ in range(int(dice.integers(1, 4))):
        note = long[int(dice.integers(len(long)))]
        length_s = float(dice.uniform(0.8, 2.4))
        midi = note.midi + float(dice.normal(0, 0.1))
        before = line.sound.copy()
        line.sound[:] = 0
        truth = _stroke(line, note, midi, at, length_s, T, False, dice)
        own = line.sound
        end = at + round(length_s * RATE)
        fade = round(dice.uniform(0.01, 0.25) * RATE)
        own[end:] = 0
        own[end - fade : end] *= np.cos(np.linspace(0, np.pi / 2, fade))
        line.sound = before + (_swayed(own, at, dice) if dice.random() < 0.75 else own)
        truths.append(truth)
        at = end + round(dice.uniform(0.02, 0.6) * RATE)
    return Line(source + " held", line.sound[: at + round(0.4 * RATE)], RATE, tuple(truths))


def _swayed(sound: Sound, at: int, dice: Dice) -> Sound:
    """With vibrato of pitch and level or a tremor, a swell, and slow unsteadiness, from shortly
    after the note's start."""
    time_s = np.arange(sound.size) / RATE - at / RATE - dice.uniform(0.05, 0.25)
    grown = np.clip(time_s / 0.3, 0, 1)
    sways_hz = dice.uniform(3.8, 6.8) if dice.random() < 0.7 else dice.uniform(6.8, 11)
    turn = 2 * np.pi * sways_hz * time_s + dice.uniform(0, 6)
    if dice.random() < 0.7:
        cents = dice.uniform(2, 28)
        hz = dice.uniform(3.8, 6.8)
        delay = cents / 1200 * np.log(2) / (2 * np.pi * hz) * RATE
        sound = np.interp(
            np.arange(sound.size) + delay * np.sin(2 * np.pi * hz * time_s) * grown,
            np.arange(sound.size),
            sound,
        )
    level_db = np.zeros(sound.size)
    if dice.random() < 0.6:
        level_db += dice.uniform(0.3, 4.0) * np.sin(turn) * grown
    if dice.random() < 0.5:
        level_db -= (
            dice.uniform(3, 20) * np.abs(np.cos(np.pi * time_s / dice.uniform(0.7, 4))) * grown
        )
    if dice.random() < 0.5:
        points = dice.standard_normal(int(sound.size / RATE * dice.uniform(3, 14)) + 4)
        slow = np.interp(np.linspace(0, 1, sound.size), np.linspace(0, 1, points.size), points)
        level_db += dice.uniform(0.3, 2.5) * slow * grown
    return sound * 10 ** (level_db / 20)


def passage(found: Passage, dice: Dice) -> Line:
    """A cut of a recorded passage, slower and lower or faster and higher."""
    every = {"slurred": S, "soft": L, "tongued": T, "doubled": T, "held": T}[found.kind]
    step = 2 ** (dice.uniform(-5, 7) / 12)
    length = round(dice.uniform(2.5, 5.0) * RATE * step)
    first = int(dice.integers(max(1, found.samples.size - length)))
    cut = found.samples[first : first + length].astype(np.float64)
    places = np.arange(int(cut.size / step) - 2) * step
    sound = 0.4 * np.interp(places, np.arange(cut.size), cut)
    fade = round(0.02 * RATE)
    sound[:fade] *= np.linspace(0, 1, fade)
    quiet = np.zeros(round(0.25 * RATE))
    return Line(
        f"passage {found.kind} {found.name}",
        np.concatenate([quiet, sound, quiet]),
        RATE,
        (),
        every,
        one_note=found.kind == "held",
    )


def made(dice: Dice) -> Line:
    """The tests' made flute."""
    rate = int(dice.choice([44100, 48000]))
    bpm = float(dice.uniform(50, 165))
    if dice.random() < 0.5:
        whole = scale(int(dice.integers(59, 63)), 96)
        first = int(dice.integers(len(whole) - 16))
        midis = whole[first : first + 16]
    else:
        midis = [int(dice.integers(60, 85))]
        while len(midis) < 16:
            again = dice.random() < 0.12
            step = 0 if again else int(dice.integers(-12, 13)) or 1
            midis.append(int(np.clip(midis[-1] + step, 60, 96)))
    kinds = starts(len(midis), dice)
    kinds = [
        T if kind is S and (n == 0 or midis[n] == midis[n - 1]) else kind
        for n, kind in enumerate(kinds)
    ]
    plain = blown(midis, bpm, T, dice, first_s=FIRST_S)
    notes = []
    for note, kind in zip(plain, kinds, strict=True):
        bare = Blown(note.midi, note.onset_s, note.end_s, kind)
        notes.append(replace(bare, **manner(kind, 15 / bpm, dice)))
    if dice.random() < 0.5:
        notes = _slurs_as_recorded(notes, dice)
    if dice.random() < 0.3:
        notes = [
            replace(
                n, vibrato_hz=float(dice.uniform(4, 6.5)), vibrato_cents=float(dice.uniform(3, 20))
            )
            for n in notes
        ]
    sound = sounded(notes, rate, dice, noise_db=float(dice.uniform(-42, -24)), tail_s=0.4)
    truths = [
        TrueStart(n.midi, n.onset_s, n.onset_s + n.tone_after_s + 0.3 * n.attack_s, n.start)
        for n in notes
    ]
    return Line("made", sound, rate, tuple(truths))


def _slurs_as_recorded(notes: Sequence[Blown], dice: Dice) -> list[Blown]:
    """Slurs that dip the deeper and the longer the further they leap, as on recorded phrases."""
    dipped = [notes[0]]
    for before, note in pairwise(notes):
        if note.start is S:
            leap = abs(note.midi - before.midi)
            dip_db = max(0.0, float(dice.normal(4.0 + 0.9 * leap, 3.0)))
            dip_s = 0.015 + 0.003 * leap * float(dice.uniform(0.3, 1.5))
            note = replace(note, dip_db=dip_db, dip_s=dip_s)
        dipped.append(note)
    return dipped


def player(dice: Dice) -> Line:
    """The flutist whom the trainer carries."""
    kind = (S, S, L, T, Start.BACK_TONGUED, B)[int(dice.integers(6))]
    whole = scale(int(dice.integers(59, 63)), 96)
    first = int(dice.integers(len(whole) - 14))
    seed = int(dice.integers(1 << 30))
    notes = as_expected(whole[first : first + 14], kind)
    played = Flutist(seed=seed).play(notes, float(dice.uniform(50, 160)), Tuning())
    truths = []
    for number, note in enumerate(played.truth):
        own = (
            T
            if note.start is Start.BACK_TONGUED or (number == 0 and note.start is S)
            else note.start
        )
        truths.append(TrueStart(whole[first + number], note.onset_s, note.onset_s + 0.01, own))
    return Line("player", played.samples.astype(np.float64), 48000, tuple(truths))
