"""Beyond pitch and onset: starts, stumbles, odd and even, vibrato, trill, and what it costs."""

from __future__ import annotations

import tracemalloc
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from time import process_time

import numpy as np

from tests.bench.ear.readers import Reading
from tests.bench.ear.takes import FIRST_S, RATE, TrueTake, made, takes
from tests.ear.made_flute import Blown, as_expected, blown, in_a_room, microphoned, scale, sounded
from tests.ear.test_scripts import KINDS, named, played
from trainer.ear.hear import hear
from trainer.ear.heard import Take
from trainer.ear.live.live_ear import LiveEar
from trainer.ear.take_listener import TakeListener
from trainer.ear.transcribe import transcribe
from trainer.music.note import Start
from trainer.music.tuning import Tuning

TAKES_PER_KIND = 15
QUICK_S = 0.060
LONG_S = 120.0
EARLIER_MINUTES, LATER_MINUTES = 5, 15


def start_counts(pairs: Sequence[tuple[TrueTake, Reading]]) -> dict[Start, Counter[str]]:
    """How the notes after the first were heard to start, by how they did."""
    counts: dict[Start, Counter[str]] = {}
    for true, reading in pairs:
        if reading.take is None:
            continue
        row = counts.setdefault(true.start, Counter())
        heard = {note.index: note.start for note in reading.take.expected_notes}
        row.update(str(heard.get(n) or "not found") for n in range(1, len(true.truth)))
    return counts


def stumbles(room_s: float) -> dict[str, float]:
    """Share of scripted takes in which the event was named and no other note lost to it."""
    ways = [(Start.SLURRED, 80), (Start.TONGUED, 80), (Start.TONGUED, 120), (Start.SLURRED, 120)]
    right = {}
    for kind in KINDS:
        outcomes = []
        for number in range(TAKES_PER_KIND):
            start, bpm = ways[number % len(ways)]
            outcomes.append(named(kind, *played(kind, start, bpm, 7000 + number, room_s)))
        right[kind] = float(np.mean(outcomes))
    return right


@dataclass(frozen=True)
class OddEven:
    """Largest errors over several takes with a planted difference."""

    ms: float
    db: float


def odd_even(room_s: float) -> OddEven:
    """Second notes of pairs later and softer by a known amount."""
    off_ms, off_db = [], []
    for seed, (late_s, softer_db) in enumerate([(0.0, 0.0), (0.012, -2.0), (-0.008, 1.5)]):
        for bpm in (80, 120):
            dice = np.random.default_rng(6000 + seed)
            midis = scale(60, 84)
            notes = blown(midis, bpm, Start.TONGUED, dice, FIRST_S, jitter_s=0.002)
            plain = [replace(n, level_db=float(dice.normal(0, 0.3))) for n in notes]
            planted = [
                replace(n, onset_s=n.onset_s + late_s, level_db=n.level_db + softer_db)
                if place % 2
                else n
                for place, n in enumerate(plain)
            ]
            heard = _heard(planted, midis, bpm, room_s, dice).expected_notes
            onsets_s = [np.inf if n.onset_s is None else n.onset_s for n in heard]
            levels_db = [np.inf if n.level_db is None else n.level_db for n in heard]
            heard_ms, heard_db = _against_neighbours(onsets_s, levels_db)
            true_ms, true_db = _against_neighbours(
                [n.onset_s for n in planted], [n.level_db for n in planted]
            )
            off_ms.append(abs(heard_ms - true_ms))
            off_db.append(abs(heard_db - true_db))
    return OddEven(max(off_ms), max(off_db))


def _against_neighbours(
    onsets_s: Sequence[float], levels_db: Sequence[float]
) -> tuple[float, float]:
    """How much later, in ms, and louder, in dB, second notes come than the middle between their
    neighbours; medians."""
    onsets, levels = np.array(onsets_s), np.array(levels_db)
    odd = np.arange(1, len(onsets) - 1, 2)
    late = onsets[odd] - (onsets[odd - 1] + onsets[odd + 1]) / 2
    softer = levels[odd] - (levels[odd - 1] + levels[odd + 1]) / 2
    return float(1000 * np.median(late)), float(np.median(softer))


def vibrato(room_s: float) -> tuple[float, float, float]:
    """Largest error of rate in Hz and of extent in cents over long notes; share found."""
    off_hz, off_cents, found = [], [], []
    for place, rate_hz in enumerate((4.5, 5.2, 6.0, 7.0)):
        for extent_cents in (6.0, 14.0):
            dice = np.random.default_rng(6100 + place)
            midi = int(dice.integers(62, 94))
            note = Blown(
                midi,
                FIRST_S,
                FIRST_S + 2.0,
                Start.TONGUED,
                vibrato_hz=rate_hz,
                vibrato_cents=extent_cents,
            )
            got = _heard([note], [midi], 10, room_s, dice).notes[0]
            found.append(got.vibrato_hz is not None)
            if got.vibrato_hz is not None and got.vibrato_cents is not None:
                off_hz.append(abs(got.vibrato_hz - rate_hz))
                off_cents.append(abs(got.vibrato_cents - extent_cents))
    return max(off_hz, default=np.inf), max(off_cents, default=np.inf), float(np.mean(found))


def trill(room_s: float) -> float:
    """Largest error of a trill's rate in Hz, from the onsets of a free hearing."""
    off = []
    for place, rate_hz in enumerate((5.0, 6.0, 7.0)):
        dice = np.random.default_rng(6200 + place)
        low = int(dice.integers(65, 88))
        half_s = 0.5 / rate_hz
        notes = [
            Blown(
                low + 2 * (number % 2),
                FIRST_S + number * half_s,
                FIRST_S + (number + 1) * half_s,
                Start.SLURRED if number else Start.TONGUED,
            )
            for number in range(20)
        ]
        sound = sounded(notes, RATE, dice)
        if room_s:
            sound = in_a_room(sound, RATE, room_s, dice)
        heard = transcribe(microphoned(sound, dice), RATE, Tuning()).notes
        upper = [n.onset_s for n in heard if n.midi is not None and round(n.midi) == low + 2]
        steps = np.diff(np.array(upper, np.float64))
        off.append(abs(1 / float(np.mean(steps)) - rate_hz) if steps.size else np.inf)
    return max(off)


def _heard(
    notes: Sequence[Blown],
    midis: Sequence[int],
    bpm: float,
    room_s: float,
    dice: np.random.Generator,
) -> Take:
    sound = sounded(notes, RATE, dice)
    if room_s:
        sound = in_a_room(sound, RATE, room_s, dice)
    return hear(microphoned(sound, dice), RATE, as_expected(midis), bpm, Tuning(), FIRST_S)


@dataclass(frozen=True)
class Cost:
    """Processor time and memory; they depend on the machine."""

    live_share: float
    """Of one core, at 48 kHz, in blocks of 1600 frames: the quick answer and all the whole-take
    work that is done while the round sounds."""
    quick_share: float
    """Of that, the quick answer alone."""
    after_round_s: float
    """From the last sample to the finished take."""
    at_once_s: float
    """The same take from a file, worked through at once."""
    growth_kb: float
    """Memory the quick answer holds more after fifteen minutes than after five."""


def cost() -> Cost:
    """Time the live path and the whole-take analysis on a two-minute take."""
    true = made(Start.TONGUED, 100, 0.3, 90300)
    times = int(np.ceil(LONG_S * RATE / true.samples.size))
    samples = np.tile(true.samples, times)[: round(LONG_S * RATE)]
    midis = [n.pitch.midi for n in true.expected] * times
    expected = as_expected(midis, Start.TONGUED)
    began = process_time()
    hear(samples, RATE, expected, 100, Tuning(), FIRST_S)
    at_once_s = process_time() - began
    pieces = [samples[first : first + 1600] for first in range(0, samples.size, 1600)]
    ear, listening = (
        LiveEar(expected, 100, Tuning(), RATE, FIRST_S),
        TakeListener(RATE, expected, 100, Tuning()),
    )
    began = process_time()
    for piece in pieces:
        ear.feed(piece)
    quick_s = process_time() - began
    for piece in pieces:
        listening.feed(piece)
    live_s = process_time() - began
    began = process_time()
    listening.take(FIRST_S)
    after_s = process_time() - began
    return Cost(live_s / LONG_S, quick_s / LONG_S, after_s, at_once_s, _live_growth_kb(samples))


OTHERWISE = (
    (Start.TONGUED, Start.SLURRED),
    (Start.LEGATO_TONGUE, Start.SLURRED),
    (Start.SLURRED, Start.TONGUED),
    (Start.SLURRED, Start.LEGATO_TONGUE),
    (Start.LEGATO_TONGUE, Start.TONGUED),
    (Start.TONGUED, Start.LEGATO_TONGUE),
)
"""What is played, and what was asked for."""


def against_what_was_asked(room_s: float) -> dict[tuple[Start, Start], float]:
    """Share of notes heard as they were played where another start was asked for."""
    shares = {}
    for start, wanted in OTHERWISE:
        right = []
        for true in takes([start], room_s):
            asked = [replace(note, start=wanted) for note in true.expected]
            take = hear(true.samples, RATE, asked, true.bpm, Tuning(), FIRST_S)
            right += [n.start is start for n in take.expected_notes[1:]]
        shares[start, wanted] = float(np.mean(right))
    return shares


def _live_growth_kb(samples: np.ndarray) -> float:
    ear = LiveEar(as_expected(scale()), 100, Tuning(), RATE, FIRST_S)
    minute = samples[: 60 * RATE]
    tracemalloc.start()
    try:
        held = []
        for _ in range(LATER_MINUTES):
            for first in range(0, minute.size, 4096):
                ear.feed(minute[first : first + 4096])
            held.append(tracemalloc.get_traced_memory()[0])
    finally:
        tracemalloc.stop()
    return (held[LATER_MINUTES - 1] - held[EARLIER_MINUTES - 1]) / 1024


def quick_answers(room_s: float) -> float:
    """Share of notes of 94 ms and more rightly named 60 ms after their onset."""
    right, total = 0, 0
    for start in (Start.SLURRED, Start.TONGUED):
        for bpm in (80, 120, 160):
            true = made(start, bpm, room_s, 90400)
            ear = LiveEar(true.expected, bpm, Tuning(), RATE, FIRST_S)
            named_at: dict[int, float] = {}
            fed_s = 0.0
            for first in range(0, true.samples.size, 256):
                block = true.samples[first : first + 256]
                fed_s += block.size / RATE
                for reading in ear.feed(block):
                    if reading.note_index is not None:
                        named_at.setdefault(reading.note_index, fed_s)
            for index, note in enumerate(true.truth):
                total += 1
                right += named_at.get(index, np.inf) <= note.onset_s + QUICK_S
    return right / total
