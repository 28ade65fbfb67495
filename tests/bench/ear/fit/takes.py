"""Takes drawn for fitting and for measuring, made by many workers at once."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from multiprocessing import get_context
from pathlib import Path
from time import monotonic

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from tests.bench.ear.fit import lines
from tests.bench.ear.fit.lines import Line
from tests.bench.ear.fit.rooms import somewhere
from tests.bench.ear.fit.seams import Seams, seams_of
from tests.bench.ear.fit.voices import RATE, VoiceNote, Voices, voices_of
from trainer.music.note import Start

Dice = np.random.Generator

SHARES = {
    "recorded": 0.29,
    "fluid": 0.045,
    "timgm": 0.045,
    "musescore": 0.045,
    "freepats": 0.035,
    "npm": 0.06,
    "piccolo": 0.015,
    "recorder": 0.015,
    "held": 0.1,
    "slurred": 0.14,
    "tongued": 0.04,
    "doubled": 0.02,
    "made": 0.11,
    "player": 0.04,
}
"""How much of the sound fitted on comes from where."""
HELD_VOICES = ("recorded", "recorded", "npm", "fluid", "freepats")
SETS = ("tongued", "slurs", "trills", "legato", "detached", "patterns", "repeated", "held", "soft")
"""What is measured, on notes and passages not fitted on."""


@cache
def _voices(path: Path) -> Voices:
    return voices_of(path)


@cache
def _responses(path: Path) -> dict[str, NDArray[np.float64]]:
    kept = np.load(path)
    return {name: kept[name].astype(np.float64) for name in kept.files}


def drawn(voices: Voices, dice: Dice) -> Line:
    """A line to be fitted on."""
    source = str(
        dice.choice(list(SHARES), p=np.array(list(SHARES.values())) / sum(SHARES.values()))
    )
    if source == "made":
        return lines.made(dice)
    if source == "player":
        return lines.player(dice)
    if source in ("slurred", "tongued", "doubled"):
        found = [p for p in voices.passages if p.kind == source and not p.held_out]
        if source == "slurred":
            # as much from each phrase as from six trills: leaps are rarer there and matter more
            weight = np.array([6.0 if "phrase" in p.name else 1.0 for p in found])
            return lines.passage(found[int(dice.choice(len(found), p=weight / weight.sum()))], dice)
        return lines.passage(found[int(dice.integers(len(found)))], dice)
    if source == "held":
        swells = [p for p in voices.passages if p.kind == "held" and not p.held_out]
        if dice.random() < 0.3:
            return lines.passage(swells[int(dice.integers(len(swells)))], dice)
        name = str(dice.choice(HELD_VOICES))
        return lines.held(name, voices.notes[name], dice)
    return lines.stitched(source, voices.notes[source], dice)


def fitting_take(voices: Voices, dice: Dice) -> Seams:
    """One take to be fitted on, somewhere."""
    line = drawn(voices, dice)
    samples, place = somewhere(line.samples, line.rate, dice)
    believed = line.rate if dice.random() < 0.7 else 48000
    return seams_of(line, samples, place, believed)


def measured_take(voices: Voices, responses: dict[str, NDArray[np.float64]], number: int) -> Seams:
    """One take to be measured on: held-out notes and passages in one of the measuring rooms."""
    dice = np.random.default_rng([number, 99])
    name = SETS[number % len(SETS)]
    line = _measured_line(name, voices, dice)
    sizes = ["dry", *dict.fromkeys(name.split(" · ")[0] for name in responses)]
    size = sizes[(number // len(SETS)) % len(sizes)]
    bodies = [name for name in responses if name.startswith(size)] or [size]
    room = bodies[int(dice.integers(len(bodies)))]
    sound = line.samples
    if room != "dry":
        response = responses[room]
        sound = signal.fftconvolve(sound, response)[: sound.size + round(0.3 * RATE)]
    sound = 0.3 * sound / np.abs(sound).max()
    sound = sound + dice.standard_normal(sound.size) * 2e-4
    found = seams_of(line, sound.astype(np.float32), room, line.rate)
    return Seams(name, room, found.patches, found.facts, found.truths, found.joined, found.same)


def _measured_line(name: str, voices: Voices, dice: Dice) -> Line:
    notes = voices.notes["held out"]
    kinds = {
        "tongued": (Start.TONGUED,),
        "slurs": (Start.SLURRED,),
        "soft": (Start.LEGATO_TONGUE,),
        "repeated": (Start.TONGUED,),
    }
    if name in kinds or name == "patterns":
        return _with_kinds(name, notes, kinds.get(name), dice)
    if name == "held":
        swells = [p for p in voices.passages if p.kind == "held" and p.held_out]
        if dice.random() < 0.3:
            return lines.passage(swells[int(dice.integers(len(swells)))], dice)
        return lines.held(name, notes, dice)
    wanted = {"trills": "slurred", "legato": "slurred", "detached": "tongued"}[name]
    found = [
        p
        for p in voices.passages
        if p.kind == wanted
        and p.held_out
        and (name != "trills" or "trill" in p.name)
        and (name != "legato" or "phrase" in p.name)
    ]
    return lines.passage(found[int(dice.integers(len(found)))], dice)


def _with_kinds(
    name: str, notes: Sequence[VoiceNote], kinds: tuple[Start, ...] | None, dice: Dice
) -> Line:
    if kinds is None:
        patterns = [p for p in lines.PATTERNS if Start.LEGATO_TONGUE not in p]
        kinds = patterns[int(dice.integers(len(patterns)))]
    return lines.stitched(name, notes, dice, kinds * 20, repeated=name == "repeated")


def _work(job: tuple[Path, Path, int, int, float, bool]) -> list[Seams]:
    voices_path, responses_path, first, count, until, measuring = job
    os.environ["OMP_NUM_THREADS"] = "1"
    voices, found = _voices(voices_path), []
    for number in range(first, first + count):
        if monotonic() > until:
            break
        if measuring:
            found.append(measured_take(voices, _responses(responses_path), number))
        else:
            found.append(fitting_take(voices, np.random.default_rng([number, 7])))
    return [take for take in found if take.truths.size]


def takes(
    voices: Path,
    responses: Path,
    seconds: float,
    workers: int,
    *,
    measuring: bool = False,
    most: int = 1 << 30,
    seed: int = 0,
) -> Iterator[Seams]:
    """As many takes as the workers make in some seconds, in the order in which they are done."""
    until = monotonic() + seconds
    step = 9
    jobs = (
        (voices, responses, seed * 10_000_000 + first, min(step, most - first), until, measuring)
        for first in range(0, most, step)
    )
    with get_context("fork").Pool(workers) as pool:
        for found in pool.imap_unordered(_work, _while(jobs, until)):
            yield from found


def _while(
    jobs: Iterator[tuple[Path, Path, int, int, float, bool]], until: float
) -> Iterator[tuple[Path, Path, int, int, float, bool]]:
    for number, job in enumerate(jobs):
        if monotonic() > until or number > 20_000:
            return
        yield job


@dataclass(frozen=True)
class Gathered:
    """Takes laid end to end; seams and dips in one row, as in `Seams`."""

    sources: list[str]
    places: list[str]
    ends: NDArray[np.int64]
    patches: NDArray[np.uint8]
    facts: NDArray[np.float32]
    truths: NDArray[np.int8]
    joined: NDArray[np.bool_]
    same: NDArray[np.bool_]


def gathered(found: Sequence[Seams]) -> Gathered:
    """All of them as one."""
    return Gathered(
        [t.source for t in found],
        [t.place for t in found],
        np.cumsum([t.truths.size for t in found]),
        np.concatenate([t.patches for t in found]),
        np.concatenate([t.facts for t in found]),
        np.concatenate([t.truths for t in found]),
        np.concatenate([t.joined for t in found]),
        np.concatenate([t.same for t in found]),
    )


def part_of(made: Gathered, chosen: NDArray[np.bool_]) -> Gathered:
    """Some of the takes."""
    counts = np.diff(np.concatenate([[0], made.ends]))
    places = np.repeat(chosen, counts)
    return Gathered(
        [name for name, use in zip(made.sources, chosen, strict=True) if use],
        [name for name, use in zip(made.places, chosen, strict=True) if use],
        np.cumsum(counts[chosen]),
        made.patches[places],
        made.facts[places],
        made.truths[places],
        made.joined[places],
        made.same[places],
    )
