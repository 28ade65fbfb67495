"""Old dances and airs as music21's corpus has them in ABC, moved into the flute's compass."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import music21
import numpy as np

LOWEST, HIGHEST = 60, 93
COLLECTIONS = ("airdsAirs", "oneills1850", "essenFolksong", "ryansMammoth")
FEWEST_NOTES = 24
WIDEST = 24


@dataclass(frozen=True)
class Written:
    """One note of a tune."""

    midi: int
    beat: float
    """In quarters from the first note, like its length."""
    length: float


def tune(dice: np.random.Generator) -> tuple[Written, ...]:
    """A tune drawn from the collections, in an octave or a key of its own."""
    texts = _texts()
    while True:
        notes = _read(texts[int(dice.integers(len(texts)))])
        low = min((note.midi for note in notes), default=0)
        high = max((note.midi for note in notes), default=0)
        moves = [by for by in range(-12, 25) if low + by >= LOWEST and high + by <= HIGHEST]
        if len(notes) >= FEWEST_NOTES and high - low <= WIDEST and moves:
            by = int(dice.choice(moves))
            return tuple(replace(note, midi=note.midi + by) for note in notes)


@cache
def _texts() -> tuple[str, ...]:
    """Every tune of the collections."""
    folder = Path(music21.__file__).parent / "corpus"
    texts: list[str] = []
    for name in COLLECTIONS:
        for path in sorted((folder / name).glob("*.abc")):
            whole = path.read_text("utf-8", "replace").replace("\r", "")
            first, *others = whole.split("\nX:")
            texts += [first] if first.lstrip().startswith("X:") else []
            texts += ["X:" + other for other in others]
    return tuple(texts)


def _read(text: str) -> list[Written]:
    """The notes of a tune, ties joined, graces and chords left out; none where music21 can't read
    it."""
    try:
        stream = music21.converter.parse(text, format="abc").flatten().stripTies()
    except Exception:  # which of its many errors is music21's matter
        return []
    notes: list[Written] = []
    for one in stream.notes:
        beat, length = float(one.offset), float(one.quarterLength)
        alone = isinstance(one, music21.note.Note) and not one.duration.isGrace
        if alone and length > 0 and (not notes or beat > notes[-1].beat):
            notes.append(Written(int(one.pitch.midi), beat, length))
    first = notes[0].beat if notes else 0.0
    return [replace(note, beat=note.beat - first) for note in notes]
