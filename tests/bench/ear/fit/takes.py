"""Takes drawn for fitting and for measuring, made by many workers at once.

    python -m tests.bench.ear.fit.takes VOICES.npz RESPONSES.npz FOLDER [--seconds 270]
        [--apart 1500] [--workers 16] [--seed 1]

FOLDER gets `made.npz`, which is fitted on, and `apart.npz`, which is measured on.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from multiprocessing import get_context
from pathlib import Path
from time import monotonic
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from tests.bench.ear.fit import lines
from tests.bench.ear.fit.lines import Line
from tests.bench.ear.fit.rooms import somewhere
from tests.bench.ear.fit.seams import Seams, seams_of
from tests.bench.ear.fit.voices import RATE, Passage, VoiceNote, Voices, voices_of
from trainer.music.note import Start

Dice = np.random.Generator
T = TypeVar("T")

SHARES = {
    "recorded": 0.21,
    "fluid": 0.04,
    "timgm": 0.04,
    "musescore": 0.04,
    "csound": 0.04,
    "freepats": 0.03,
    "npm": 0.06,
    "piccolo": 0.015,
    "piccolo timgm": 0.015,
    "piccolo musescore": 0.01,
    "piccolo csound": 0.01,
    "recorder": 0.015,
    "held": 0.1,
    "spliced": 0.17,
    "spliced soft": 0.025,
    "slurred": 0.12,
    "soft": 0.03,
    "tongued": 0.055,
    "doubled": 0.02,
    "made": 0.09,
    "player": 0.03,
}
"""How much of the sound fitted on comes from where."""
RECORDED_OTHERS, SAMPLED_OTHERS = 0.15, 0.35
"""How often a voice's notes are given other attacks."""
HALLS = 0.35
"""Of the rooms."""
PASSAGES = ("slurred", "soft", "tongued", "doubled")
HELD_VOICES = ("recorded", "recorded", "npm", "fluid", "freepats")
PHRASES = ("C4", "D5", "F4", "G5")
"""Levels of the recorded legato phrases. All are fitted on, save where one is left out."""
SETS = (
    *(f"{name} {half}" for name in ("tongued", "slurs", "patterns") for half in ("a", "b")),
    *(f"legato {level}" for level in PHRASES),
    *(f"spliced {level}" for level in PHRASES),
    "trills",
    "detached",
    "soft phrase",
    "soft",
)
"""What is measured. Notes and passages not fitted on, save the legato phrases. Choices are made on
pitches a, whose MIDI number leaves 1 after division by 5; b, which leave 4, are reported."""
HALVES = {"a": 1, "b": 4}
ENOUGH_SEAMS = 8


@cache
def read_voices(path: Path) -> Voices:
    """The voices, unpacked once."""
    return voices_of(path)


@cache
def read_responses(path: Path) -> dict[str, NDArray[np.float64]]:
    """The rooms measured in, read once."""
    kept = np.load(path)
    return {name: kept[name].astype(np.float64) for name in kept.files}


def drawn(voices: Voices, dice: Dice) -> Line:
    """A line to be fitted on."""
    source = one_of(SHARES, dice)
    if source == "made":
        return lines.made(dice)
    if source == "player":
        return lines.player(dice)
    if source in PASSAGES:
        return lines.passage(_weighed(fitted_on(voices, source), 6.0, dice), dice)
    if source.startswith("spliced"):
        kind = "soft" if source == "spliced soft" else "slurred"
        found = [p for p in fitted_on(voices, kind) if _has_seams(p)]
        passage = _weighed(found, 9.0, dice)
        name = f"spliced {passage.name}"
        return lines.spliced(name, passage, voices.notes["recorded"], dice)
    if source == "held":
        return held_line(voices, dice)
    other = RECORDED_OTHERS if source == "recorded" else SAMPLED_OTHERS
    return lines.stitched(source, voices.notes[source], dice, other=other)


def held_line(voices: Voices, dice: Dice, held_out: bool = False) -> Line:
    """A few notes held, or a cut of a recorded swell."""
    swells = [p for p in voices.passages if p.kind == "held" and p.held_out == held_out]
    if dice.random() < 0.3:
        return lines.passage(swells[int(dice.integers(len(swells)))], dice)
    name = "held out" if held_out else str(dice.choice(HELD_VOICES))
    return lines.held(name, voices.notes[name], dice)


def one_of(shares: Mapping[T, float], dice: Dice) -> T:
    """One of them, each as often as its share."""
    some, weight = list(shares), np.array(list(shares.values()))
    return some[int(dice.choice(len(some), p=weight / weight.sum()))]


def fitted_on(voices: Voices, kind: str) -> list[Passage]:
    """The passages of a kind that may be fitted on."""
    return [p for p in voices.passages if p.kind == kind and not p.held_out]


def _has_seams(found: Passage) -> bool:
    return len(lines.seams_inside(found)) >= ENOUGH_SEAMS


def _weighed(found: Sequence[Passage], phrase: float, dice: Dice) -> Passage:
    """One of them; a phrase so many times as often as a trill: leaps are rarer and matter more."""
    weight = np.array([phrase if p.phrase else 1.0 for p in found])
    return found[int(dice.choice(len(found), p=weight / weight.sum()))]


def fitting_take(voices: Voices, dice: Dice) -> Seams:
    """One take to be fitted on, somewhere."""
    line = drawn(voices, dice)
    samples, place = somewhere(line.samples, line.rate, dice, halls=HALLS)
    believed = line.rate if dice.random() < 0.7 else 48000
    return seams_of(line, samples, place, believed)


def measured_take(voices: Voices, responses: dict[str, NDArray[np.float64]], number: int) -> Seams:
    """One take to be measured on: held-out notes and passages in one of the measuring rooms."""
    dice = np.random.default_rng([number, 99])
    name = SETS[number % len(SETS)]
    line = _measured_line(name, voices, dice)
    sound, room = in_measuring_room(line.samples, responses, number // len(SETS), dice)
    return replace(seams_of(line, sound, room, line.rate), source=name, place=room)


def fair(source: str, left: str | None = None) -> bool:
    """Whether a set may set the temperatures: nothing of it is fitted on but what is left out."""
    what, _, level = source.partition(" ")
    return what not in ("legato", "spliced") or (left is not None and level + "_" in left)


def in_measuring_room(
    sound: NDArray[np.float64], responses: dict[str, NDArray[np.float64]], number: int, dice: Dice
) -> tuple[NDArray[np.float32], str]:
    """The sound in one of the rooms that are never fitted on, their sizes in turn; and which."""
    sizes = ["dry", *dict.fromkeys(name.split(" · ")[0] for name in responses)]
    size = sizes[number % len(sizes)]
    bodies = [name for name in responses if name.startswith(size)] or [size]
    room = bodies[int(dice.integers(len(bodies)))]
    if room != "dry":
        sound = signal.fftconvolve(sound, responses[room])[: sound.size + round(0.3 * RATE)]
    sound = 0.3 * sound / np.abs(sound).max()
    return (sound + dice.standard_normal(sound.size) * 2e-4).astype(np.float32), room


def _measured_line(name: str, voices: Voices, dice: Dice) -> Line:
    notes = voices.notes["held out"]
    what, _, which = name.partition(" ")
    kinds = {
        "tongued": (Start.TONGUED,),
        "slurs": (Start.SLURRED,),
        "soft": (Start.LEGATO_TONGUE,),
        "patterns": None,
    }
    if what in ("legato", "spliced"):
        [phrase] = [
            p for p in voices.passages if p.kind == "slurred" and p.phrase and which in p.name
        ]
        if what == "legato":
            return lines.passage(phrase, dice)
        return lines.spliced(name, phrase, notes, dice)
    if what in kinds and which != "phrase":
        some = [n for n in notes if which == "" or round(n.midi) % 5 == HALVES[which]]
        return _with_kinds(what, some, kinds[what], dice)
    wanted = {"trills": "slurred", "detached": "tongued", "soft phrase": "soft"}[name]
    found = [p for p in voices.passages if p.kind == wanted and p.held_out]
    return lines.passage(_weighed(found, 1.0, dice), dice)


def _with_kinds(
    name: str, notes: Sequence[VoiceNote], kinds: tuple[Start, ...] | None, dice: Dice
) -> Line:
    if kinds is None:
        patterns = [p for p in lines.PATTERNS if Start.LEGATO_TONGUE not in p]
        kinds = patterns[int(dice.integers(len(patterns)))]
    return lines.stitched(name, notes, dice, kinds * 20)


def _seams(voices: Path, _: Path, number: int) -> list[Seams]:
    take = fitting_take(read_voices(voices), np.random.default_rng([number, 7]))
    return [take] if take.truths.size else []


def _seams_apart(voices: Path, responses: Path, number: int) -> list[Seams]:
    take = measured_take(read_voices(voices), read_responses(responses), number)
    return [take] if take.truths.size else []


Making = Callable[[Path, Path, int], list[T]]
"""What is made of voices and responses for the take of a number."""


def many(
    make: Making[T],
    voices: Path,
    responses: Path,
    seconds: float,
    workers: int,
    *,
    most: int = 1 << 30,
    seed: int = 0,
) -> Iterator[T]:
    """As many takes as the workers make in some seconds, in the order in which they are done."""
    until = monotonic() + seconds
    step = 9
    jobs = (
        partial(_some, make, voices, responses, seed * 10_000_000 + first, step, until)
        for first in range(0, most, step)
    )
    with get_context("fork").Pool(workers) as pool:
        for found in pool.imap_unordered(_done, _while(jobs, until)):
            yield from found


def _some(
    make: Making[T], voices: Path, responses: Path, first: int, count: int, until: float
) -> list[T]:
    os.environ["OMP_NUM_THREADS"] = "1"
    found: list[T] = []
    for number in range(first, first + count):
        if monotonic() > until:
            break
        found += make(voices, responses, number)
    return found


def _done(job: Callable[[], list[T]]) -> list[T]:
    return job()


def _while(jobs: Iterator[T], until: float) -> Iterator[T]:
    for number, job in enumerate(jobs):
        if monotonic() > until or number > 20_000:
            return
        yield job


@dataclass(frozen=True)
class Gathered:
    """Takes laid end to end; all seams in one row."""

    sources: list[str]
    places: list[str]
    ends: NDArray[np.int64]
    patches: NDArray[np.uint8]
    facts: NDArray[np.float32]
    truths: NDArray[np.int8]
    joined: NDArray[np.bool_]
    same: NDArray[np.bool_]

    @property
    def counts(self) -> NDArray[np.int64]:
        """How many seams each take has."""
        return np.diff(self.ends, prepend=0)

    @property
    def in_halls(self) -> NDArray[np.bool_]:
        """Which takes are in halls."""
        return np.array([place.endswith("hall") for place in self.places])


ARRAYS = ("ends", "patches", "facts", "truths", "joined", "same")


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
    counts = made.counts
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


def kept(made: Gathered, path: Path) -> None:
    """Write takes into a file."""
    arrays = {name: getattr(made, name) for name in ARRAYS}
    np.savez(path, sources=np.array(made.sources), places=np.array(made.places), **arrays)


def taken(path: Path) -> Gathered:
    """Takes out of a file."""
    with np.load(path) as file:
        arrays = {name: file[name] for name in ARRAYS}
        return Gathered(file["sources"].tolist(), file["places"].tolist(), **arrays)


def making_options(words: str, *, seconds: float, apart: int) -> argparse.Namespace:
    """What a maker of takes is told, its folder made; words: its docstring."""
    parser = argparse.ArgumentParser(description=words.split("\n")[0])
    parser.add_argument("voices", type=Path)
    parser.add_argument("responses", type=Path)
    parser.add_argument("out", type=Path, help="folder")
    parser.add_argument("--seconds", type=float, default=seconds)
    parser.add_argument("--apart", type=int, default=apart, help="takes to measure on")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    return options


def main() -> None:
    """Make what is measured on, then what is fitted on."""
    options = making_options(__doc__, seconds=270, apart=1500)
    began, sources = monotonic(), (options.voices, options.responses)
    some = many(_seams_apart, *sources, options.seconds, options.workers, most=options.apart)
    apart = sorted(some, key=lambda take: (take.source, take.place))
    kept(gathered(apart), options.out / "apart.npz")
    left_s = options.seconds - (monotonic() - began)
    made = gathered(list(many(_seams, *sources, left_s, options.workers, seed=options.seed)))
    kept(made, options.out / "made.npz")
    print(f"{len(apart)} and {len(made.sources)} takes", flush=True)


if __name__ == "__main__":
    main()
