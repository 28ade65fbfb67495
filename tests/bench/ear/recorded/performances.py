"""Tunes played as a performer does, whose every tone is known: in a tempo of their own, with
breaths, dynamics, slurs, vibrato, and ornaments that nobody wrote; in halls, near and far.

How they are played is drawn; what it is drawn from is from memory, no source: the tempo swings by a
tenth within a phrase and a few hundredths from note to note, the last notes broaden, breaths take
0.15 to 0.4 s, one long note in eight has an ornament, and what is told of the tempo is off by up to
a fifth. Every recorded pitch is played: of the recorded player the networks of starts and strokes
know most.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache

import mir_eval
import numpy as np

from tests.bench.ear.recorded.heard_by import (
    RATE,
    Asked,
    Heard,
    Sound,
    heard_told,
    heard_untold,
    in_order,
)
from tests.bench.ear.recorded.lines import FIRST_S, Stroke, played
from tests.bench.ear.recorded.notes import QUICK_S, Bank, RecordedNote, single_notes
from tests.bench.ear.recorded.plan import Plan
from tests.bench.ear.recorded.rooms import DRY, MICROPHONES, Place, Room
from tests.bench.ear.recorded.tunes import HIGHEST, LOWEST, Written, tune

SECONDS = (20.0, 32.0)
TELLS_OFF = 0.2
ORNAMENTED = 0.12
DYNAMICS: tuple[tuple[float, frozenset[str]], ...] = (
    (-10.0, frozenset({"pianissimo", "piano", "60"})),
    (-3.0, frozenset({"mezzo-piano", "mezzo-forte", "85"})),
    (0.0, frozenset({"forte", "fortissimo", "110"})),
)
"""dB, and what recorded notes and a SoundFont's are called that are so loud."""
LENGTHS, HELD = frozenset({"025", "1"}), frozenset({"long", "very-long"})
LONGEST_SLURRED_S = 1.6
"""The longest recorded notes of every pitch last hardly longer."""
SPAN_S, LAG_WITHIN_S = 0.1, 0.12
HALLS = {
    "near": (
        ("ours", Room("hall, near", 1.4, -8.0)),
        ("stitch", Room("hall, near", 1.2, -6.0)),
        ("shoebox", Room("hall, near", 1.4, np.nan, 5.0)),
    ),
    "far": (
        ("ours", Room("hall, far", 2.2, 0.0)),
        ("stitch", Room("hall, far", 2.0, 2.0)),
        ("shoebox", Room("hall, far", 1.8, np.nan, 8.0)),
    ),
}


@dataclass(frozen=True)
class Tone:
    """One tone as it is played, before any room."""

    midi: int
    onset_s: float
    end_s: float
    owner: int
    """The written note it belongs to."""


@dataclass(frozen=True)
class Performance:
    """A tune as played, and the truth about it."""

    samples: Sound
    written: tuple[Written, ...]
    slurred: tuple[bool, ...]
    """Of the written notes."""
    told_bpm: float
    """What is said of its tempo, in quarters."""
    tones: tuple[Tone, ...]

    @property
    def asked(self) -> Asked:
        """As it stands on the stand; how it is slurred isn't told."""
        return Asked(
            tuple(note.midi for note in self.written),
            tuple(_fraction(note.beat) for note in self.written),
            Fraction(1),
            self.slurred,
            self.told_bpm,
            timed=False,
            lengths=tuple(_fraction(note.length) for note in self.written),
        )


def _fraction(quarters: float) -> Fraction:
    return Fraction(quarters).limit_denominator(96)


# Playing -----------------------------------------------------------------------------------------


def performance(number: int, player: str) -> Performance:
    """The performance of a number by a player."""
    dice = np.random.default_rng([number, 71])
    notes = tune(dice)
    wanted_s = float(np.exp(dice.uniform(np.log(0.2), np.log(0.5))))
    quarter_s = wanted_s / float(np.median([note.length for note in notes]))
    longest = dice.uniform(*SECONDS) / quarter_s
    notes = tuple(note for note in notes if note.beat < longest)
    told_bpm = 60 / quarter_s * float(dice.uniform(1 - TELLS_OFF, 1 + TELLS_OFF))
    begins_s, ends_s, breath_after = _times(notes, quarter_s, dice)
    slurred = _slurs(notes, breath_after, np.diff([*begins_s, ends_s[-1]]), dice)
    tones = _tones(notes, begins_s, ends_s, slurred, dice)
    samples = _sound(tones, slurred, breath_after, player, dice)
    return Performance(samples, notes, slurred, told_bpm, tuple(tones))


def _times(
    notes: Sequence[Written], quarter_s: float, dice: np.random.Generator
) -> tuple[list[float], list[float], list[bool]]:
    """Where each note begins and ends, and after which a breath is taken."""
    phrase = float(dice.choice([8.0, 12.0, 16.0]))
    swing, phase = dice.uniform(0.03, 0.12), dice.uniform(0, 2 * math.pi)
    drift, at_s, begun, ended, breaths = 0.0, FIRST_S, [], [], []
    since_breath = 0.0
    for place, note in enumerate(notes):
        after = notes[place + 1] if place + 1 < len(notes) else None
        drift = 0.8 * drift + float(dice.normal(0, 0.02))
        stretch = swing * math.cos(2 * math.pi * note.beat / phrase + phase) + drift
        if dice.random() < 0.08:
            stretch += dice.uniform(0.1, 0.3)
        left = len(notes) - place
        stretch += {1: 0.5, 2: 0.35, 3: 0.2, 4: 0.1}.get(left, 0.0)
        step = (after.beat if after else note.beat + note.length) - note.beat
        lasts_s = note.length * quarter_s * math.exp(stretch)
        step_s = step * quarter_s * math.exp(stretch)
        since_breath += step_s
        rest = step - note.length > 0.01
        breath = (
            after is None or rest or (since_breath > 3.0 and note.length >= 1) or since_breath > 8
        )
        begun.append(at_s + float(dice.normal(0, 0.006)))
        gap_s = float(dice.uniform(0.15, 0.4)) if breath and not rest else 0.0
        taken_s = min(gap_s / 2, lasts_s / 3)
        ended.append(at_s + lasts_s - taken_s)
        breaths.append(breath)
        at_s += step_s + (gap_s - taken_s)
        if breath:
            since_breath = 0.0
    return begun, ended, breaths


def _slurs(
    notes: Sequence[Written],
    breath_after: Sequence[bool],
    steps_s: Sound,
    dice: np.random.Generator,
) -> tuple[bool, ...]:
    """Whether each note is slurred to the one before: never a repeated one, nor after a breath."""
    share = float(dice.choice([0.0, 0.4, 0.7]))
    slurred, left = [], 0
    for place, note in enumerate(notes):
        free = place > 0 and not breath_after[place - 1] and notes[place - 1].midi != note.midi
        free = free and max(steps_s[place - 1 : place + 1]) < LONGEST_SLURRED_S
        if left > 0 and free:
            left -= 1
            slurred.append(True)
            continue
        slurred.append(False)
        left = int(dice.integers(1, 4)) if dice.random() < share else 0
    return tuple(slurred)


def _tones(
    notes: Sequence[Written],
    begins_s: Sequence[float],
    ends_s: Sequence[float],
    slurred: Sequence[bool],
    dice: np.random.Generator,
) -> list[Tone]:
    detached = float(dice.choice([0.03, 0.06, 0.4]))
    scale = {note.midi % 12 for note in notes}
    tones: list[Tone] = []
    for place, note in enumerate(notes):
        next_s = begins_s[place + 1] if place + 1 < len(notes) else math.inf
        slurs_on = place + 1 < len(notes) and slurred[place + 1]
        gap_s = max(0.02, detached * (next_s - begins_s[place])) if next_s < math.inf else 0.0
        gap_s = min(gap_s, 0.2)
        end_s = next_s if slurs_on else min(ends_s[place], next_s - gap_s)
        end_s = max(end_s, begins_s[place] + 0.06)
        lasts_s = end_s - begins_s[place]
        parts = [(note.midi, 0.0)]
        if lasts_s > 0.3 and dice.random() < ORNAMENTED:
            parts = _ornament(note.midi, lasts_s, scale, dice)
        edges = [begins_s[place] + off_s for _, off_s in parts] + [end_s]
        tones += [
            Tone(midi, from_s, to_s, place)
            for (midi, _), (from_s, to_s) in zip(parts, itertools.pairwise(edges), strict=True)
        ]
    return tones


def _ornament(
    midi: int, lasts_s: float, scale: set[int], dice: np.random.Generator
) -> list[tuple[int, float]]:
    """Pitches of an ornamented note, and when each begins after it."""
    above = midi + (1 if (midi + 1) % 12 in scale else 2)
    below = midi - (1 if (midi - 1) % 12 in scale else 2)
    below = max(below, LOWEST)
    step_s = float(dice.uniform(0.06, 0.095))
    kinds = ["grace above", "grace below", "mordent", "upper mordent", "turn"]
    if lasts_s > 0.6:
        kinds += ["trill", "trill"]
    kind = str(dice.choice(kinds))
    if kind == "trill":
        count = int(dice.integers(4, max(5, int(0.8 * lasts_s / step_s))))
        first = int(dice.integers(2))
        pitches = [(midi, above)[(first + n) % 2] for n in range(count)]
        if pitches[-1] != midi:
            pitches.append(midi)
    else:
        pitches = {
            "grace above": [above, midi],
            "grace below": [below, midi],
            "mordent": [midi, below, midi],
            "upper mordent": [midi, above, midi],
            "turn": [above, midi, below, midi],
        }[kind]
    return [(pitch, n * step_s) for n, pitch in enumerate(pitches)]


def _sound(
    tones: Sequence[Tone],
    slurred: Sequence[bool],
    breath_after: Sequence[bool],
    player: str,
    dice: np.random.Generator,
) -> Sound:
    """The tones played phrase by phrase, each in a dynamic of its own, with vibrato."""
    phrases: list[list[Tone]] = [[]]
    for before, tone in itertools.pairwise([None, *tones]):
        if before is not None and tone.owner != before.owner and breath_after[before.owner]:
            phrases.append([])
        phrases[-1].append(tone)
    size = round((tones[-1].end_s + 1.0) * RATE)
    out = np.zeros(size)
    for phrase in phrases:
        dynamic = int(dice.integers(3))
        bank = chromatic(player, dynamic)
        base_db, _ = DYNAMICS[dynamic]
        middle = (phrase[0].onset_s + phrase[-1].end_s) / 2
        half = max(0.5, (phrase[-1].end_s - phrase[0].onset_s) / 2)
        strokes = [
            Stroke(
                tone.midi,
                tone.onset_s,
                tone.end_s,
                slurred=slurred[tone.owner]
                if place == 0 or phrase[place - 1].owner != tone.owner
                else True,
                cents=float(dice.normal(0, 6)),
                level_db=base_db
                + 0.2 * (tone.midi - 76)
                - 4 * ((tone.onset_s - middle) / half) ** 2
                + float(dice.normal(0, 1.0)),
            )
            for place, tone in enumerate(phrase)
        ]
        sound = played(strokes, bank, dice).samples[:size]
        out[: sound.size] += sound
    return _swayed(out, tones, dice)


@cache
def chromatic(player: str, dynamic: int) -> Bank:
    """Notes of one dynamic that speak at once, of every pitch of the compass: what wasn't recorded
    is a half step's neighbour, moved."""
    _, wanted = DYNAMICS[dynamic]
    every = single_notes(player, held=True)
    quick = [note for note in every if note.slow_s <= QUICK_S] or list(every)
    own = [note for note in quick if note.dynamic in wanted and note.length in LENGTHS]
    held = [note for note in quick if note.length in HELD]
    return {
        midi: tuple(_moved(n, midi) for notes in (own, held) for n in _nearest(notes, midi))
        for midi in range(LOWEST - 3, HIGHEST + 4)
    }


def _nearest(notes: Sequence[RecordedNote], midi: int) -> list[RecordedNote]:
    """Those of the nearest pitch that was recorded."""
    away = min(abs(note.midi - midi) for note in notes)
    return [note for note in notes if abs(note.midi - midi) == away]


def _moved(note: RecordedNote, midi: int) -> RecordedNote:
    away = 100.0 * (note.midi - midi)
    step = 2 ** (away / 1200)
    return replace(
        note,
        midi=midi,
        dynamic="",
        cents=note.cents + away,
        held_cents=note.held_cents + away,
        speaks_s=note.speaks_s * step,
        slow_s=note.slow_s * step,
        lasts_s=note.lasts_s * step,
    )


def _swayed(sound: Sound, tones: Sequence[Tone], dice: np.random.Generator) -> Sound:
    """The sound with a vibrato of pitch and level where a tone lasts, grown from 0.2 s on."""
    rate_hz, cents = float(dice.uniform(4.5, 6.0)), float(dice.uniform(0, 22))
    time_s = np.arange(sound.size) / RATE
    depth = np.zeros(sound.size)
    for tone in tones:
        if tone.end_s - tone.onset_s > 0.35:
            inside = slice(round(tone.onset_s * RATE), round(tone.end_s * RATE))
            grown = np.clip((time_s[inside] - tone.onset_s - 0.15) / 0.25, 0, 1)
            depth[inside] = grown * np.clip((tone.end_s - time_s[inside]) / 0.05, 0, 1)
    turn = 2 * np.pi * rate_hz * time_s
    late_s = depth * (2 ** (cents / 1200) - 1) / (2 * np.pi * rate_hz) * np.sin(turn)
    swayed = np.interp(time_s + late_s, time_s, sound)
    return swayed * 10 ** (depth * cents / 12 * np.cos(turn) / 20)


def places(number: int) -> tuple[Place, ...]:
    """Where the performance of a number is heard: dry, and near and far in halls of one maker."""
    microphone = tuple(MICROPHONES)[number // 3 % len(MICROPHONES)]
    halls = [rows[number % len(rows)] for rows in HALLS.values()]
    dry = Place(DRY, "none", "plain", number)
    return (dry, *(Place(room, maker, microphone, number) for maker, room in halls))


# What is heard -----------------------------------------------------------------------------------


def performances(plan: Plan) -> Iterator[dict]:
    """A record for each tune, place and way of being told: the notes with their rhythm and a tempo,
    their order alone, or nothing."""
    for number in range(plan.seed, plan.seed + plan.takes(12, 4)):
        given = performance(number, plan.player)
        for place in places(number):
            sound = place.heard(given.samples)
            ways = {
                "rhythm, a tempo": heard_told(sound, given.asked),
                "their order": heard_told(sound, in_order(given.asked.midis)),
                "nothing": heard_untold(sound),
            }
            for told, heard in ways.items():
                yield plan.tags(place) | {"told": told} | scored(given.tones, heard)


def scored(tones: Sequence[Tone], heard: Sequence[Heard]) -> dict:
    """Note F (mir_eval: onset within 50 ms, pitch within 50 cents), onset F within 25 ms after the
    median lag of notes of one pitch is taken out, that lag, and how many were called missed, all of
    which were played."""
    true_s = np.array([(tone.onset_s, tone.end_s) for tone in tones])
    true_midi = np.array([tone.midi for tone in tones], float)
    found = [(n.onset_s, n.midi) for n in heard if n.onset_s is not None and n.midi is not None]
    onsets_s = np.array([onset_s for onset_s, _ in found])
    midi = np.array([midi for _, midi in found])
    _, _, note_f, _ = mir_eval.transcription.precision_recall_f1_overlap(
        true_s,
        _hz(true_midi),
        np.maximum(0.0, np.stack([onsets_s, onsets_s + SPAN_S], axis=1)),
        _hz(midi),
        offset_ratio=None,
    )
    lag_s = _lag_s(true_s[:, 0], true_midi, onsets_s, midi)
    moved_s = np.sort(np.maximum(onsets_s - lag_s, 0.0))
    return {
        "note F": note_f,
        "onset F": mir_eval.onset.f_measure(np.sort(true_s[:, 0]), moved_s, window=0.025)[0],
        "lag": lag_s,
        "missed": sum(note.state == "missed" for note in heard),
        "before the sound": sum(onset_s < 0 for onset_s in onsets_s),
        "notes": len(tones),
    }


def _lag_s(true_s: Sound, true_midi: Sound, onsets_s: Sound, midi: Sound) -> float:
    off_s = onsets_s[:, None] - true_s
    same = (np.abs(midi[:, None] - true_midi) < 0.5) & (np.abs(off_s) < LAG_WITHIN_S)
    nearest = np.where(same, np.abs(off_s), np.inf).argmin(axis=1)
    paired = same.any(axis=1)
    return float(np.median(off_s[paired, nearest[paired]])) if paired.any() else 0.0


def _hz(midi: Sound) -> Sound:
    return np.asarray(440.0 * 2 ** ((midi - 69.0) / 12))
