"""How near the readers come to the pitch of made tones and of recorded notes."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import aubio
import numpy as np
from numpy.typing import NDArray

from tests.bench.free_pitch import sounds
from tests.ear.recorded import RATE, single_notes, sound_of
from trainer.ear.analysis.frames import HOP_S, frames
from trainer.ear.analysis.free_pitch import FreePitch

HOP = round(HOP_S * RATE)
GROSS_CENTS = 50.0
HARMONICS = {
    "sine": (1.0,),
    "flute": (1.0, 0.5, 0.25, 0.1, 0.05),
    "octave leads": (0.2, 1.0, 0.4, 0.2, 0.1),
}
OCTAVE_LEADS_UP_TO = 72
SIZES = (1024, 2048, 4096)
METHODS = (
    *(("yinfast", size) for size in SIZES),
    *(("yinfft", size) for size in SIZES),
    *(("fcomb", size) for size in SIZES),
    ("mcomb", 2048),
    ("specacf", 4096),
    ("schmitt", 2048),
)


@dataclass(frozen=True)
class Tracked:
    """One reader's frames, each of shape (frames,)."""

    times_s: NDArray[np.float64]
    hz: NDArray[np.float64]
    """0 where there is no period."""
    confidence: NDArray[np.float64]
    level_db: NDArray[np.float64]


Reader = Callable[[sounds.Sound], Tracked]


def free_pitch(samples: sounds.Sound) -> Tracked:
    """The trainer's reader, fed a fifth of a second at a time."""
    reader, heard = FreePitch(RATE), np.asarray(samples, np.float32)
    blocks = (heard[first : first + RATE // 5] for first in range(0, heard.size, RATE // 5))
    read = [one for block in blocks for one in reader.feed(block)]
    columns = [(one.time_s, one.hz or 0.0, one.confidence, one.level_db) for one in read]
    return Tracked(*np.array(columns, np.float64).reshape(-1, 4).T)


def own(samples: sounds.Sound) -> Tracked:
    """The period finder of the trainer's ear, which hears whole takes."""
    track = frames(np.asarray(samples, np.float32), RATE, 440.0)
    hz = np.nan_to_num(440.0 * 2 ** ((track.midi - 69) / 12))
    return Tracked(track.times_s, hz, track.clarity, track.level_db)


def with_aubio(method: str, size: int) -> Reader:
    """One of aubio's methods as it is."""

    def read(samples: sounds.Sound) -> Tracked:
        heard = np.asarray(samples, np.float32)
        tracker = aubio.pitch(method, size, HOP, RATE)
        tracker.set_silence(-120.0)
        count = heard.size // HOP
        hops = heard[: count * HOP].reshape(count, HOP)
        found = np.array([(tracker(hop)[0], tracker.get_confidence()) for hop in hops], np.float64)
        ends = HOP * np.arange(1, count + 1)
        energy = np.concatenate([[0.0], np.cumsum(heard.astype(np.float64) ** 2)])
        power = (energy[ends] - energy[np.maximum(0, ends - size)]) / size
        level_db = 10 * np.log10(power + 1e-12)
        return Tracked((ends - size / 2) / RATE, found[:, 0], found[:, 1], level_db)

    return read


def readers() -> dict[str, Reader]:
    """The trainer's first."""
    found: dict[str, Reader] = {"free pitch (yinfast 1024, phases)": free_pitch}
    found["the ear's period finder"] = own
    for method, size in METHODS:
        found[f"aubio {method} {size}"] = with_aubio(method, size)
    return found


def made_tones(
    snr_db: float, kind: str, dice: np.random.Generator
) -> list[tuple[float, sounds.Sound]]:
    """Frequencies and tones of 0.5 s, C4 to C7, none on a semitone."""
    highest = OCTAVE_LEADS_UP_TO if kind == "octave leads" else 96
    at_s = np.arange(RATE // 2) / RATE
    tones = []
    for midi in range(60, highest + 1, 2):
        hz = 440 * 2 ** ((midi + dice.uniform(-0.5, 0.5) - 69) / 12)
        parts = enumerate(HARMONICS[kind], start=1)
        sound = sum(a * np.sin(2 * np.pi * n * hz * at_s + dice.uniform(0, 6)) for n, a in parts)
        sound = 0.1 * sound / np.sqrt(np.mean(np.square(sound)))
        noise = 0.1 * 10 ** (-snr_db / 20) * dice.standard_normal(at_s.size)
        tones.append((float(hz), sound + noise))
    return tones


def on_made_tones() -> str:
    """A table: lean, spread and gross errors of single frames."""
    cases = [(snr_db, kind) for snr_db in (60, 20, 10) for kind in HARMONICS]
    head = "| single frames, lean ± spread, cents (gross errors) | " + " | ".join(
        f"{kind}, {snr_db} dB" for snr_db, kind in cases
    )
    rows = [head + " |", "|---" * (len(cases) + 1) + "|"]
    tones = {case: made_tones(*case, np.random.default_rng(11)) for case in cases}
    for name, read in readers().items():
        cells = []
        for case in cases:
            off = [_off_cents(read(sound), hz, 0.1, 0.4) for hz, sound in tones[case]]
            cells.append(_lean_and_spread(np.concatenate(off)))
        rows.append(f"| {name} | " + " | ".join(cells) + " |")
    return "\n".join(rows)


def _off_cents(track: Tracked, hz: float, from_s: float, to_s: float) -> NDArray[np.float64]:
    inside = (track.times_s > from_s) & (track.times_s < to_s)
    return np.asarray(1200 * np.log2(np.maximum(track.hz[inside], 1.0) / hz))


def _lean_and_spread(off: NDArray[np.float64]) -> str:
    gross = np.abs(off) > GROSS_CENTS
    if gross.mean() > 0.9:
        return f"({100 * gross.mean():.0f}%)"
    lean, spread = np.mean(off[~gross]), np.std(off[~gross])
    return f"{lean:+.2f} ± {spread:.2f} ({100 * gross.mean():.1f}%)"


def on_recordings() -> str:
    """A table against another library's reader; a sentence where it isn't installed."""
    try:
        import parselmouth
    except ImportError:
        return "Recorded notes: not compared, `praat-parselmouth` is not installed."
    notes = [n for n in single_notes() if n.length == "1" and n.held_out][::2]
    if not notes:
        return "Recorded notes: the recordings are not at hand."
    conditions = ("dry", "pink noise 20 dB below", "pink noise 10 dB below", "room 0.4 s, -3 dB")
    off: dict[str, dict[str, list[NDArray[np.float64]]]] = {}
    dice = np.random.default_rng(12)
    for note in notes:
        dry = sound_of(note.path)[: round(2.5 * RATE)]
        times_s, reference_hz = _reference(parselmouth, dry)
        named_hz = 440 * 2 ** ((note.midi - 69) / 12)
        with np.errstate(divide="ignore"):
            near = np.abs(1200 * np.log2(reference_hz / named_hz)) < 100
        held = near & (times_s > 0.25) & (times_s < dry.size / RATE - 0.25)
        for condition in conditions:
            sound = _heard(dry, condition, dice)
            for name, read in readers().items():
                track = read(sound)
                hz = np.interp(times_s[held], track.times_s, track.hz)
                cents = 1200 * np.log2(np.maximum(hz, 1.0) / reference_hz[held])
                off.setdefault(name, {}).setdefault(condition, []).append(cents)
    rows = [
        f"| {len(notes)} recorded notes, held out: lean, median and 95th of the size (gross) | "
        + " | ".join(conditions)
        + " |",
        "|---" * (len(conditions) + 1) + "|",
    ]
    for name, found in off.items():
        cells = [_median_and_95th(np.concatenate(found[condition])) for condition in conditions]
        rows.append(f"| {name} | " + " | ".join(cells) + " |")
    return "\n".join(rows)


def _heard(dry: sounds.Sound, condition: str, dice: np.random.Generator) -> sounds.Sound:
    if condition == "dry":
        return dry
    if condition.startswith("room"):
        return sounds.through(dry, sounds.small_room(0.4, -3.0, 1))
    level = np.sqrt(np.mean(dry[RATE // 5 :] ** 2)) * 10 ** (-float(condition.split()[2]) / 20)
    return dry + level * sounds.pink(dry.size, dice)


def _reference(
    library: object, dry: sounds.Sound
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Autocorrelation over six periods of its floor, with a Gaussian window (Boersma 1993, IFA
    Proceedings 17:97), of the dry note: times in s, and Hz, 0 where it hears none."""
    sound = library.Sound(np.asarray(dry, np.float64), RATE)  # type: ignore[attr-defined]
    pitch = sound.to_pitch_ac(
        time_step=0.01,
        pitch_floor=120.0,
        pitch_ceiling=3200.0,
        very_accurate=True,
        voicing_threshold=0.3,
    )
    return pitch.xs(), pitch.selected_array["frequency"]


def _median_and_95th(off: NDArray[np.float64]) -> str:
    gross = np.abs(off) > GROSS_CENTS
    fair = off[~gross]
    if gross.mean() > 0.9:
        return f"({100 * gross.mean():.0f}%)"
    size = np.abs(fair)
    return (
        f"{np.median(fair):+.2f}, {np.median(size):.2f}, {np.percentile(size, 95):.1f} "
        f"({100 * gross.mean():.1f}%)"
    )


def cost() -> str:
    """A table: share of one core while listening."""
    sound = sounds.synthetic_note(20.0)
    rows = ["| reader | share of a core |", "|---|---|"]
    for name, read in readers().items():
        begun_s = time.process_time()
        read(sound)
        rows.append(f"| {name} | {100 * (time.process_time() - begun_s) / 20:.1f} % |")
    return "\n".join(rows)
