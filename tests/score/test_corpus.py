"""Scores from many notation programs, as kept in the corpus of music21, read by us and by music21.

The files are public-domain music (Bach, Haydn, Monteverdi, Palestrina, Schumann and others) written
by the programs of many years. Compared bar by bar: written pitch, place and length of every note.
A program writes all its scores in one manner, so that one score of each release of each is read.
"""

import re
from collections import defaultdict
from fractions import Fraction
from functools import cache
from pathlib import Path
from zipfile import ZipFile

import music21
import pytest

from trainer.score.excerpt import read_score
from trainer.score.part import Part

CORPUS = Path(music21.__file__).parent / "corpus"
SUFFIXES = (".mxl", ".xml", ".musicxml")
MOST_BYTES = 20_000
SOFTWARE = re.compile(rb"<software>(.*?)</software>")
pytestmark = pytest.mark.filterwarnings("ignore")


def chosen_files() -> list[Path]:
    """Of the largest of the small files in every folder of the corpus, one for each program."""
    largest: dict[Path, Path] = {}
    for path in sorted(CORPUS.rglob("*")):
        size = size_of(path)
        best = largest.get(path.parent)
        small = path.suffix in SUFFIXES and size < MOST_BYTES
        if small and (best is None or size > size_of(best)):
            largest[path.parent] = path
    best_last = sorted(largest.values(), key=lambda path: (not on_two_staves(path), size_of(path)))
    return list({programs(path): path for path in best_last}.values())


def size_of(path: Path) -> int:
    return path.stat().st_size


@cache
def texts(path: Path) -> tuple[bytes, ...]:
    """What a file holds, unpacked."""
    if path.suffix != ".mxl":
        return (path.read_bytes(),)
    with ZipFile(path) as archive:
        return tuple(archive.read(name) for name in archive.namelist())


def on_two_staves(path: Path) -> bool:
    """Whether a part of it is music21's to divide: MusicXML's element <staves>."""
    return any(b"<staves>" in text for text in texts(path))


def programs(path: Path) -> tuple[bytes, ...]:
    """The programs a file says it was written by, in order: MusicXML's element <software>."""
    return tuple(found for text in texts(path) for found in SOFTWARE.findall(text))


def music21_bars(part) -> dict[int, dict[tuple[Fraction, Fraction], set[str]]]:
    """Bar index → (place, length) → written pitches that stand there."""
    bars = {}
    for index, measure in enumerate(part.getElementsByClass(music21.stream.Measure)):
        places = defaultdict(set)
        for voice in list(measure.voices) or [measure]:
            for note in voice.notes:
                if note.duration.isGrace or not hasattr(note, "pitches"):
                    continue
                shift = Fraction(0 if voice is measure else voice.offset)
                place = Fraction(note.offset) + shift, Fraction(note.quarterLength)
                places[place] |= {_spelled(pitch) for pitch in note.pitches}
        bars[index] = places
    return bars


def _spelled(pitch) -> str:
    return f"{pitch.name.replace('-', 'b')}{pitch.octave}"


def compare(ours: Part, theirs) -> tuple[int, list[str]]:
    """Notes compared, and what differs."""
    bars = music21_bars(theirs)
    differing = []
    count = 0
    for index, bar in enumerate(ours.bars):
        for note in bar.notes:
            count += 1
            if str(note.pitch) not in bars[index].get((note.beat, note.length), set()):
                differing.append(f"{ours.name}, bar {bar.number}: {note}")
    return count, differing


@pytest.mark.slow
@pytest.mark.parametrize("path", chosen_files(), ids=lambda path: f"{path.parent.name} {path.stem}")
def test_every_note_is_where_music21_has_it(path):
    score = read_score(path)
    theirs = music21.converter.parse(path)
    if isinstance(theirs, music21.stream.Opus) or len(theirs.parts) != len(score.parts):
        pytest.skip("several pieces in one file, or parts of two staves, which music21 divides")
    total = 0
    for ours, part in zip(score.parts, theirs.parts, strict=True):
        count, differing = compare(ours, part)
        total += count
        assert not differing
    assert total
