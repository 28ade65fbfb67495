"""Takes in which some notes are slow to speak, made by many workers at once.

    python -m tests.bench.ear.fit.speaking_takes VOICES.npz RESPONSES.npz FOLDER [--seconds 300]
        [--apart 1600] [--workers 16] [--seed 1] [--without-slow]

FOLDER gets `speaking.npz`, which is fitted on, and `speaking_apart.npz`, which is measured on.
`--without-slow` leaves out every recorded note that is slow to speak: what was fitted so is
measured on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from time import monotonic

import numpy as np
from numpy.typing import NDArray

from tests.bench.ear.fit import lines
from tests.bench.ear.fit.lines import Line, TrueStart
from tests.bench.ear.fit.rooms import somewhere
from tests.bench.ear.fit.seams import answered, heard_in, seam_picture
from tests.bench.ear.fit.slow_notes import EVERY, OWN_S, spoken_slowly
from tests.bench.ear.fit.takes import (
    Dice,
    in_measuring_room,
    making_options,
    many,
    one_of,
    read_responses,
    read_voices,
)
from tests.bench.ear.fit.voices import Voices
from trainer.ear.analysis.features import Features
from trainer.ear.segments.note_segment import JOINED_S, NoteSegment
from trainer.ear.segments.note_start import AGAIN_SEMITONES
from trainer.ear.segments.segment_measures import seam_s
from trainer.ear.segments.speaking_network import speaking_facts
from trainer.music.note import Start

SHARES = {
    "recorded": 0.5,
    "fluid": 0.06,
    "timgm": 0.06,
    "musescore": 0.06,
    "freepats": 0.05,
    "npm": 0.12,
    "piccolo": 0.03,
    "recorder": 0.03,
    "made": 0.05,
    "player": 0.04,
}
"""How much of the sound fitted on comes from where."""
LONGEST_S, LOUDEST_DB = 1.9, 5.0
"""Halls as well as rooms."""
SETS = ("quick", "patterns", *EVERY)
"""What is measured, on notes not fitted on: as they were recorded, struck or slurred in patterns,
and slow in each manner."""


@dataclass(frozen=True)
class Spoke:
    """The seams of one take of which it is known how the note spoke."""

    source: str
    place: str
    patches: NDArray[np.uint8]
    """Shape (seams, rows, steps)."""
    facts: NDArray[np.float32]
    stroke_s: NDArray[np.float32]
    """Against the place that the patch shows."""
    speaks_s: NDArray[np.float32]


def drawn(voices: Voices, dice: Dice, *, without_slow: bool) -> Line:
    """A line to be fitted on."""
    source = one_of(SHARES, dice)
    if source == "made":
        return lines.made(dice)
    if source == "player":
        return lines.player(dice)
    voice = voices.notes[source]
    if without_slow and source == "recorded":
        voice = tuple(note for note in voice if note.slow_s < OWN_S[0])
    given = [Start.TONGUED] * 18 if dice.random() < 0.6 else None
    return lines.stitched(source, voice, dice, given, spoken=spoken_slowly(voice, EVERY, dice))


def fitting_take(voices: Path, _: Path, number: int, *, without_slow: bool = False) -> list[Spoke]:
    """One take to be fitted on, somewhere."""
    dice = np.random.default_rng([number, 13])
    line = drawn(read_voices(voices), dice, without_slow=without_slow)
    samples, place = somewhere(
        line.samples, line.rate, dice, longest_s=LONGEST_S, loudest_db=LOUDEST_DB
    )
    return list(_spoke(line, samples, place, line.rate if dice.random() < 0.7 else 48000))


def measured_take(voices: Path, responses: Path, number: int) -> list[Spoke]:
    """One take to be measured on, in one of the measuring rooms."""
    dice = np.random.default_rng([number, 103])
    name, voice = SETS[number % len(SETS)], read_voices(voices).notes["held out"]
    given = [Start.TONGUED] * 18
    if name == "patterns":
        given = list(lines.PATTERNS[int(dice.integers(len(lines.PATTERNS)))]) * 9
    spoken = spoken_slowly(voice, (name,), dice) if name in EVERY else None
    line = lines.stitched(name, voice, dice, given, spoken=spoken)
    sound, room = in_measuring_room(
        line.samples, read_responses(responses), number // len(SETS), dice
    )
    return [replace(one, source=name) for one in _spoke(line, sound, room, line.rate)]


def _spoke(line: Line, samples: NDArray[np.float32], place: str, rate: int) -> list[Spoke]:
    features, found, notes = heard_in(line, samples, rate)
    rows = [
        row
        for before, segment in zip([None, *found], found, strict=False)
        if (row := _seam(features, before, segment, notes)) is not None
    ]
    if not rows:
        return []
    patches, facts, strokes, speaks = zip(*rows, strict=True)
    return [
        Spoke(
            line.source,
            place,
            np.array(patches, np.uint8),
            np.array(facts, np.float32),
            np.array(strokes, np.float32),
            np.array(speaks, np.float32),
        )
    ]


def _seam(
    features: Features,
    before: NoteSegment | None,
    segment: NoteSegment,
    notes: Sequence[TrueStart],
) -> tuple[NDArray[np.uint8], NDArray[np.float32], float, float] | None:
    """What stands where a note begins, what is told of it and its two places; None where nothing is
    known of it, or a pitch starts again. Under a slur the one is the other."""
    number = answered(segment, notes)
    if number is None:
        return None
    joined = before if before is not None and segment.from_s - before.to_s < JOINED_S else None
    if joined is not None and abs(joined.midi - segment.midi) < AGAIN_SEMITONES:
        return None
    at_s, tuning = seam_s(joined, segment), features.tuning
    before_hz = tuning.midi_hz((joined or segment).midi)
    patch = seam_picture(features, at_s, before_hz, tuning.midi_hz(segment.midi))
    facts = speaking_facts(before, segment)
    stroke_s, speaks_s = notes[number].stroke_s, notes[number].speaks_s
    return patch, facts, stroke_s - at_s, max(stroke_s, speaks_s) - at_s


@dataclass(frozen=True)
class Gathered:
    """The seams of all takes in one row."""

    sources: NDArray[np.str_]
    """Of each seam."""
    places: NDArray[np.str_]
    patches: NDArray[np.uint8]
    facts: NDArray[np.float32]
    stroke_s: NDArray[np.float32]
    speaks_s: NDArray[np.float32]


def gathered(found: Sequence[Spoke]) -> Gathered:
    """All of them as one."""
    counts = [one.stroke_s.size for one in found]
    return Gathered(
        np.repeat([one.source for one in found], counts),
        np.repeat([one.place for one in found], counts),
        np.concatenate([one.patches for one in found]),
        np.concatenate([one.facts for one in found]),
        np.concatenate([one.stroke_s for one in found]),
        np.concatenate([one.speaks_s for one in found]),
    )


def kept(made: Gathered, path: Path) -> None:
    """Write seams into a file."""
    np.savez(path, **vars(made))


def taken(path: Path) -> Gathered:
    """Seams out of a file."""
    with np.load(path) as file:
        return Gathered(**{name: file[name] for name in file.files})


def main() -> None:
    """Make what is measured on, then what is fitted on."""
    options = making_options(__doc__, seconds=300, apart=1600, flags=("--without-slow",))
    began, sources = monotonic(), (options.voices, options.responses)
    some = many(measured_take, *sources, options.seconds, options.workers, most=options.apart)
    apart = sorted(some, key=lambda one: (one.source, one.place))
    kept(gathered(apart), options.out / "speaking_apart.npz")
    left_s = options.seconds - (monotonic() - began)
    make = partial(fitting_take, without_slow=options.without_slow)
    made = gathered(list(many(make, *sources, left_s, options.workers, seed=options.seed)))
    kept(made, options.out / "speaking.npz")
    print(f"{len(apart)} takes apart, {made.stroke_s.size} seams to fit on", flush=True)


if __name__ == "__main__":
    main()
