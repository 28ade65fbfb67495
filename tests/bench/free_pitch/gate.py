"""How often the first note is noticed, and how often something else is taken for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.bench.free_pitch import sounds
from tests.bench.free_pitch.pitch import Reader, Tracked, free_pitch, own, with_aubio
from tests.ear.recorded import RATE, single_notes, sound_of
from trainer.ear.analysis.frames import Samples
from trainer.ear.live.awaited_tone import (
    DYING_DB,
    LASTING_S,
    NEAR_CENTS,
    QUIETEST_DB,
    STEADY_CENTS,
    SURE,
    AwaitedTone,
)
from trainer.ear.live.one_note import is_one_note

A4S_HZ = (415.0, 424.0, 430.0, 440.0, 442.0, 446.0)
EXPECTED_MIDI = range(59, 97)
EARLY_S, LATE_S = 0.1, 0.4
"""A note is noticed where it is said to begin so near its onset."""
KEYS_EACH = 2
PASSAGE_S = 2.5


@dataclass(frozen=True)
class Gate:
    """A reader and when it takes what it reads for the first note."""

    read: Reader
    sure: float
    steady_cents: float = STEADY_CENTS
    dying_db: float = DYING_DB
    always_440: bool = False


GATES = {
    "free pitch": Gate(free_pitch, SURE),
    "the ear's period finder, same rule": Gate(own, 0.72),
    "the ear's period finder, its own rule, A4 = 440 whatever is asked": Gate(
        own, 0.72, 50.0, 200.0, always_440=True
    ),
    "aubio yinfft 1024, same rule, confidence above 0": Gate(with_aubio("yinfft", 1024), 0.0),
    "aubio fcomb 1024, same rule (it has no confidence)": Gate(with_aubio("fcomb", 1024), 0.0),
}
"""Thresholds were chosen on the recordings that are not held out."""


def beginnings(track: Tracked, expected_hz: float, gate: Gate) -> list[tuple[float, float]]:
    """Every beginning in a track: from when, and when it was noticed, in s."""
    with np.errstate(divide="ignore", invalid="ignore"):
        cents = 1200 * np.log2(track.hz / expected_hz)
    waited_for = (
        (np.abs(cents) <= NEAR_CENTS)
        & (track.confidence >= gate.sure)
        & (track.level_db >= QUIETEST_DB)
    )
    found, first, loudest_db = [], -1, 0.0
    for place in np.flatnonzero(waited_for):
        goes_on = (
            first >= 0
            and waited_for[place - 1]
            and abs(cents[place] - cents[first]) <= gate.steady_cents
            and track.level_db[place] > loudest_db - gate.dying_db
        )
        if not goes_on:
            first, loudest_db = place, track.level_db[place]
        elif track.times_s[place] - track.times_s[first] >= LASTING_S:
            found.append((float(track.times_s[first]), float(track.times_s[place])))
            first = -1
        else:
            loudest_db = max(loudest_db, track.level_db[place])
    return found


def conditions(dice: np.random.Generator) -> dict[str, list[tuple[sounds.Onset, float]]]:
    """Recorded notes that are held out, and the A4 each is played at, by condition."""
    notes = [note for note in single_notes() if note.held_out][::2]
    found = {
        f"A4 = {a4_hz:g}": [(sounds.played(note, a4_hz, dice), a4_hz) for note in notes]
        for a4_hz in A4S_HZ
    }
    dry = found["A4 = 440"]
    small, box = sounds.small_room(0.4, -3.0, 1), sounds.shoebox()
    found["room 0.4 s, -3 dB"] = [(sounds.in_room(one, small), a4_hz) for one, a4_hz in dry]
    if box is not None:
        found["shoebox 0.5 s, 1.2 m"] = [(sounds.in_room(one, box), a4_hz) for one, a4_hz in dry]
    for below_db in (20, 10):
        found[f"pink noise {below_db} dB below"] = [
            (sounds.in_noise(one, below_db, dice), a4_hz) for one, a4_hz in dry
        ]
    found["12 dB softer"] = [(sounds.softer(one, 12.0, dice), a4_hz) for one, a4_hz in dry]
    return found


def tempered_hz(midi: int, a4_hz: float) -> float:
    return float(a4_hz * 2 ** ((midi - 69) / 12))


def noticed() -> str:
    """A table: noticed, how early or late it is said to begin, and when that was known."""
    found = conditions(np.random.default_rng(21))
    count = len(found["A4 = 440"])
    rows = [
        f"| noticed of {count}; onset off by, median (5th, 95th), known after, ms | "
        + " | ".join(found)
        + " |",
        "|---" * (len(found) + 1) + "|",
    ]
    for name, gate in GATES.items():
        cells = [_noticed(gate, cases) for cases in found.values()]
        rows.append(f"| {name} | " + " | ".join(cells) + " |")
    agree = [_as_streamed(one, a4_hz) for one, a4_hz in found["A4 = 440"]]
    rows.append(
        f"\nThe product's own `AwaitedTone`, streamed, says the same of {np.mean(agree):.1%}."
    )
    return "\n".join(rows)


def _noticed(gate: Gate, cases: Sequence[tuple[sounds.Onset, float]]) -> str:
    off_ms, known_ms = [], []
    for one, a4_hz in cases:
        hz = tempered_hz(one.midi, 440.0 if gate.always_440 else a4_hz)
        for from_s, known_s in beginnings(gate.read(one.samples), hz, gate):
            if one.onset_s - EARLY_S <= from_s <= one.onset_s + LATE_S:
                off_ms.append(1000 * (from_s - one.onset_s))
                known_ms.append(1000 * (known_s - one.onset_s))
                break
    share = f"{100 * len(off_ms) / len(cases):.1f} %"
    if len(off_ms) < 0.1 * len(cases):
        return share
    low, high = np.percentile(off_ms, [5, 95])
    return f"{share}; {np.median(off_ms):+.0f} ({low:+.0f}, {high:+.0f}), {np.median(known_ms):.0f}"


def _as_streamed(one: sounds.Onset, a4_hz: float) -> bool:
    """The first beginning of the tables is the one the product finds."""
    hz = tempered_hz(one.midi, a4_hz)
    waiting, heard = AwaitedTone(RATE, hz), np.asarray(one.samples, np.float32)
    streamed = [waiting.feed(heard[first : first + 700]) for first in range(0, heard.size, 700)]
    begun = next((s for s in streamed if s is not None), None)
    expected = beginnings(free_pitch(one.samples), hz, GATES["free pitch"])
    return begun == (expected[0][0] if expected else None)


def false_beginnings() -> str:
    """A table: how often each gate opens though nobody plays the first note."""
    dice = np.random.default_rng(22)
    backgrounds: dict[str, sounds.Sound | None] = {
        "talk, espeak-ng": sounds.synthetic_talk(),
        "talk, people": sounds.peoples_talk(),
        "noise, hum": sounds.noises(dice),
        "air without a tone": sounds.breaths(dice),
        "claps": sounds.claps(dice),
        "the trainer's clicks": sounds.clicks(dice),
    }
    at_hand = {name: sound for name, sound in backgrounds.items() if sound is not None}
    keys = [
        (hz, sounds.key_slap(hz, dice))
        for hz in (tempered_hz(midi, 440.0) for midi in range(60, 85))
        for _ in range(KEYS_EACH)
    ]
    notes = [note for note in single_notes() if note.held_out][::2]
    others = [sounds.played(note, 440.0, dice) for note in notes]
    steps = (-12, -2, -1, 1, 2, 12)
    head = [
        *(f"{name}, {sound.size / RATE / 60:.1f} min" for name, sound in at_hand.items()),
        f"{len(keys)} keys shut hard",
        *(f"{step:+d} semitones" for step in steps),
    ]
    rows = [
        "| false beginnings a minute, mean over first notes B3 to C7 (the worst of them) | "
        + " | ".join(head)
        + " |",
        "|---" * (len(head) + 1) + "|",
    ]
    for name, gate in GATES.items():
        cells = [_a_minute(gate, sound) for sound in at_hand.values()]
        opened = [bool(beginnings(gate.read(sound), hz, gate)) for hz, sound in keys]
        cells.append(f"{100 * np.mean(opened):.0f} %")
        tracks = [gate.read(one.samples) for one in others]
        for step in steps:
            wrong = [
                bool(beginnings(track, tempered_hz(one.midi + step, 440.0), gate))
                for track, one in zip(tracks, others, strict=True)
            ]
            cells.append(f"{100 * np.mean(wrong):.1f} %")
        rows.append(f"| {name} | " + " | ".join(cells) + " |")
    return "\n".join(rows)


def _a_minute(gate: Gate, sound: sounds.Sound) -> str:
    track = gate.read(sound)
    minutes = sound.size / RATE / 60
    counts = [len(beginnings(track, tempered_hz(m, 440.0), gate)) for m in EXPECTED_MIDI]
    return f"{np.mean(counts) / minutes:.2f} ({max(counts) / minutes:.1f})"


def one_note() -> str:
    """A table: what the microphone's check takes for one long note."""
    dice = np.random.default_rng(23)
    lead = np.zeros(round(0.3 * RATE))
    length = round(PASSAGE_S * RATE)
    notes = [
        np.concatenate([lead, sound_of(note.path)])[:length]
        for note in single_notes()
        if note.length in ("1", "long", "very-long")
    ]
    cases: dict[str, list[sounds.Sound]] = {
        "recorded long notes": notes,
        "the same in a room of 0.4 s": [
            sounds.through(note, sounds.small_room(0.4, -3.0, 5)) for note in notes
        ],
    }
    backgrounds = {
        "talk, espeak-ng": sounds.synthetic_talk(),
        "talk, people": sounds.peoples_talk(),
        "noise, hum": sounds.noises(dice),
        "air without a tone": sounds.breaths(dice),
        "claps": sounds.claps(dice),
    }
    for name, sound in backgrounds.items():
        if sound is not None:
            firsts = range(0, sound.size - length, length // 2)
            cases[name] = [sound[first : first + length] for first in firsts]
    rows = ["| passages of 2.5 s | how many | taken for one long note |", "|---|---|---|"]
    for name, passages in cases.items():
        taken = [is_one_note(_heard(passage), RATE) for passage in passages]
        rows.append(f"| {name} | {len(taken)} | {100 * np.mean(taken):.1f} % |")
    return "\n".join(rows)


def _heard(passage: sounds.Sound) -> Samples:
    return np.asarray(passage, np.float32)
