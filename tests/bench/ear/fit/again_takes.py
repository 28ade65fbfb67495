"""Takes in which one pitch is held or struck again, made by many workers at once.

    python -m tests.bench.ear.fit.again_takes VOICES.npz RESPONSES.npz FOLDER [--seconds 300]
        [--apart 1200] [--workers 16] [--seed 1]

FOLDER gets `again.npz`, which is fitted on, and `again_apart.npz`, which is measured on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from time import monotonic

import numpy as np
from numpy.typing import NDArray

from tests.bench.ear.fit import lines
from tests.bench.ear.fit.lines import Line
from tests.bench.ear.fit.pictures import Pictured, pictured
from tests.bench.ear.fit.rooms import somewhere
from tests.bench.ear.fit.takes import (
    Dice,
    fitted_on,
    held_line,
    in_measuring_room,
    making_options,
    many,
    one_of,
    read_responses,
    read_voices,
)
from tests.bench.ear.fit.voices import Voices
from trainer.music.note import Start

SHARES = {"struck": 0.4, "held": 0.25, "line": 0.3, "trill": 0.05}
"""How much is one pitch struck, notes held, lines in which some notes repeat the one before, and
trills."""
REPEATED = (0.0, 0.15, 0.3, 0.5)
"""Shares of such notes in a line."""
VOICES = {
    "recorded": 0.5,
    "fluid": 0.08,
    "timgm": 0.08,
    "musescore": 0.08,
    "freepats": 0.06,
    "npm": 0.12,
    "piccolo": 0.04,
    "recorder": 0.04,
}
HALLS = 0.4
"""Share of halls among the rooms."""
SETS = ("struck", "held", "line")
"""What is measured, on notes and swells not fitted on."""


def drawn(voices: Voices, dice: Dice) -> Line:
    """A line to be fitted on."""
    what, source = one_of(SHARES, dice), one_of(VOICES, dice)
    if what == "held":
        return held_line(voices, dice)
    if what == "line":
        repeated = float(dice.choice(REPEATED))
        return lines.stitched(source, voices.notes[source], dice, repeated=repeated)
    if what == "trill":
        trills = [p for p in fitted_on(voices, "slurred") if not p.phrase]
        return lines.passage(trills[int(dice.integers(len(trills)))], dice)
    return lines.struck_again(source, voices.notes[source], dice)


def fitting_sounds(voices: Path, _: Path, number: int) -> list[Pictured]:
    """The sounds of one take to be fitted on, somewhere."""
    dice = np.random.default_rng([number, 11])
    line = drawn(read_voices(voices), dice)
    samples, place = somewhere(line.samples, line.rate, dice, halls=HALLS)
    believed = line.rate if dice.random() < 0.7 else 48000
    return list(pictured(line, samples, place, believed))


def measured_sounds(voices: Path, responses: Path, number: int) -> list[Pictured]:
    """The sounds of one take to be measured on, in one of the measuring rooms."""
    dice = np.random.default_rng([number, 101])
    name, known = SETS[number % len(SETS)], read_voices(voices)
    if name == "held":
        line = held_line(known, dice, held_out=True)
    elif name == "line":
        kinds = (Start.TONGUED,) * 18
        line = lines.stitched(name, known.notes["held out"], dice, kinds, repeated=REPEATED[2])
    else:
        line = lines.struck_again(name, known.notes["held out"], dice)
    sound, room = in_measuring_room(
        line.samples, read_responses(responses), number // len(SETS), dice
    )
    return [replace(one, source=name) for one in pictured(line, sound, room, line.rate)]


@dataclass(frozen=True)
class Sounds:
    """Sounds laid end to end; their steps in one row, and their places and strokes in others."""

    sources: list[str]
    places: list[str]
    midis: NDArray[np.float32]
    steps: NDArray[np.int64]
    """Of each sound, shape (sounds,)."""
    pictures: NDArray[np.uint8]
    """Shape (all steps, rows)."""
    truths: NDArray[np.int8]
    strokes: NDArray[np.int32]
    struck: NDArray[np.int64]
    """How many strokes each sound has, shape (sounds,)."""
    begins: NDArray[np.int64]
    leads: NDArray[np.int64]
    """Of each sound, as in `Pictured`."""


def gathered(found: Sequence[Pictured]) -> Sounds:
    """All of them as one."""
    return Sounds(
        [one.source for one in found],
        [one.place for one in found],
        np.array([one.midi for one in found], np.float32),
        np.array([one.picture.shape[1] for one in found]),
        np.concatenate([one.picture.T for one in found]),
        np.concatenate([one.truths for one in found]),
        np.concatenate([one.strokes for one in found]),
        np.array([one.strokes.size for one in found]),
        np.array([one.begins for one in found]),
        np.array([one.lead for one in found]),
    )


def kept(made: Sounds, path: Path) -> None:
    """Write sounds into a file."""
    np.savez(path, **vars(made))


def taken(path: Path) -> Sounds:
    """Sounds out of a file."""
    with np.load(path) as file:
        arrays = {name: file[name] for name in file.files}
    return Sounds(**arrays | {name: arrays[name].tolist() for name in ("sources", "places")})


def main() -> None:
    """Make what is measured on, then what is fitted on."""
    options = making_options(__doc__, seconds=300, apart=1200)
    began, sources = monotonic(), (options.voices, options.responses)
    some = many(measured_sounds, *sources, options.seconds, options.workers, most=options.apart)
    apart = sorted(some, key=lambda one: (one.source, one.place))
    kept(gathered(apart), options.out / "again_apart.npz")
    left_s = options.seconds - (monotonic() - began)
    made = gathered(
        list(many(fitting_sounds, *sources, left_s, options.workers, seed=options.seed))
    )
    kept(made, options.out / "again.npz")
    print(f"{len(apart)} and {made.steps.size} sounds", flush=True)


if __name__ == "__main__":
    main()
