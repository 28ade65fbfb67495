"""No length and no place is lost: random rhythms out and in, 300 of them as a long sweep.

Out as line notation and as MusicXML; back through the routine language, through our reader of
scores, and through music21's (PyPI).
"""

from datetime import date
from fractions import Fraction
from random import Random

import music21
import pytest

from trainer.music.bars import COMMON_TIME, Bars
from trainer.music.instrument import instrument_named
from trainer.music.pitch import Pitch
from trainer.routine.load import read_routine
from trainer.routine.model import Passage, WrittenNote
from trainer.routine.plan import plan
from trainer.score.excerpt import excerpt, part_named, read_score
from trainer.score.exercise import checked, routine_text
from trainer.score.line_notation import line_notation
from trainer.score.musicxml_out import musicxml
from trainer.score.sections import sections
from trainer.score.symbols import written_bars

pytestmark = pytest.mark.filterwarnings("ignore")
GROUPS = (
    "1", "2", "3", "1/2 1/2", "3/4 1/4", "1/4 3/4", "1/4 1/4 1/4 1/4", "1/4 1/4 1/2",
    "7/8 1/8", "7/4 1/4", "7/2 1/2", "3/2 1/2", "15/8 1/8",
    "1/3 1/3 1/3", "2/3 1/3", "1/2 1/6 1/3", "2/3 2/3 2/3", "1/6 1/6 1/3 1/3", "4/3 2/3",
    "1/5 1/5 1/5 1/5 1/5", "2/5 2/5 2/5 2/5 2/5", "2/5 1/5 2/5", "3/5 2/5",
    "1/6 1/6 1/6 1/6 1/6 1/6", "1/7 1/7 1/7 1/7 1/7 1/7 1/7", "2/7 2/7 2/7 2/7 2/7 2/7 2/7",
    "1/9 1/9 1/9 1/9 1/9 1/9 1/9 1/9 1/9", "1/8 1/8 1/4 1/2", "1/16 1/16 1/8 3/4",
    "5", "6", "7", "9/2 1/2", "11/2 1/2",
    "1/6 1/6 1/6 1/2", "1/2 1/6 1/6 1/6", "1/2 1/3 1/3 1/3 1/2", "4/3 4/3 4/3",
    "3/10 3/10 3/10 3/10 3/10 1/2",
)  # fmt: skip
"""Whole beats of quarters, in common time: held over bar lines where they are long."""
SAMPLE = range(12)
SWEEP = range(300)


def rhythm(seed: int) -> list[WrittenNote]:
    random = Random(seed)
    notes: list[WrittenNote] = []
    beat, slurred = Fraction(0), False
    while beat < 24:
        for length in map(Fraction, random.choice(GROUPS).split()):
            if notes and random.random() < 0.1:
                slurred = False
            else:
                pitch = Pitch(random.choice("CDEFGAB"), 0, random.choice((4, 5, 6)))
                differs = bool(notes) and notes[-1].pitch != pitch
                notes.append(
                    WrittenNote(pitch, beat, length, slurred and differs, breath_after=False)
                )
                slurred = random.random() < 0.5
            beat += length
    return notes


def said(notes: list[WrittenNote]) -> str:
    return line_notation(notes, Bars(COMMON_TIME).quarters())


def read_again(lines: str):
    indented = lines.replace("\n", "\n    ")
    text = f"title: T\nexercises:\n- passage: p\n  notes: |\n    {indented}\n"
    routine, problems = read_routine(text, "m.yaml")
    assert routine is not None, (problems, lines)
    return routine


def differences(seed: int) -> int:
    """Notes whose pitch, place, length or slur changed on the way out and in."""
    notes = rhythm(seed)
    routine = read_again(said(notes))
    (passage,) = (entry for entry in routine.entries if isinstance(entry, Passage))
    return sum(one != other for one, other in zip(passage.notes, notes, strict=True))


def exported(seed: int) -> bytes:
    routine = read_again(said(rhythm(seed)))
    music = sections(plan(routine, date(2026, 3, 2), 0))
    return musicxml("T", music, instrument_named("C flute"))


def through_a_score(seed: int, folder) -> int:
    """Notes that changed from line notation to MusicXML, and back through `import`."""
    path = folder / "out.musicxml"
    path.write_bytes(exported(seed))
    score = read_score(path)
    found = excerpt(score, part_named(score, None))
    passage = checked(routine_text([found], None, "x"))
    assert passage is not None
    return sum(one != other for one, other in zip(passage.notes, rhythm(seed), strict=True))


def through_music21(seed: int) -> int:
    """Notes that music21 reads otherwise than they were meant."""
    part = music21.converter.parse(exported(seed), format="musicxml").parts[0]
    read = [
        (n.pitch.midi, Fraction(n.offset).limit_denominator(1000),
         Fraction(n.duration.quarterLength).limit_denominator(1000))
        for n in part.stripTies().flatten().notes
    ]  # fmt: skip
    meant = [(n.pitch.midi, n.beat, n.length) for n in rhythm(seed)]
    assert len(read) == len(meant)
    return sum(one != other for one, other in zip(read, meant, strict=True))


@pytest.mark.parametrize(
    ("time", "lines", "written"),
    [
        ("4/4", "triplet sixteenth G4 A4 B4 eighth C5 dotted half G4", "[1/4 1/4 1/4]3:2 1/2 3"),
        ("4/4", "eighth G4 triplet eighth A4 B4 C5 eighth B4 half B4",
         "1/2 [1/2 1/2 1/2]3:2 1/2 2"),
        ("4/4", "triplet half G4 A4 B4", "[2 2 2]3:2"),
        ("4/4", "5:3 eighth G4 A4 B4 A4 G4 eighth B4 half A4", "[1/2 1/2 1/2 1/2 1/2]5:3 1/2 2"),
        ("6/8", "5:3 eighth G4 A4 B4 A4 G4 dotted quarter B4", "[1/2 1/2 1/2 1/2 1/2]5:3 3/2"),
        ("2/4", "sextuplet sixteenth G4 A4 B4 C5 B4 A4 quarter G4",
         "[1/4 1/4 1/4 1/4 1/4 1/4]6:4 1"),
        ("2/4", "triplet dotted eighth G4 triplet sixteenth A4 triplet eighth B4 quarter G4",
         "[3/4 1/4 1/2]3:2 1"),
    ],
)  # fmt: skip
def test_a_tuplet_is_written_as_it_is_counted(time: str, lines: str, written: str) -> None:
    """The written values in quarters, dots and all, and each bracket with its ratio (common
    practice, no source)."""
    routine = read_routine(
        f"title: T\nexercises:\n- passage: p\n  time: {time}\n  notes: {lines}\n", "m.yaml"
    )[0]
    assert routine is not None
    (bar,) = written_bars(plan(routine, date(2026, 3, 2), 0)[0].rounds[0])
    found = []
    for one in bar.symbols:
        value = one.value * (Fraction(2) - Fraction(1, 2**one.dots))
        ends = "]{}:{}".format(*one.ratio) if one.tuplet_ends else ""
        found.append(f"{'[' if one.tuplet_begins else ''}{value}{ends}")
    assert " ".join(found) == written


def test_a_few_rhythms_come_back_as_they_went_out(tmp_path):
    assert sum(differences(seed) for seed in SAMPLE) == 0
    assert sum(through_a_score(seed, tmp_path) for seed in SAMPLE) == 0
    assert sum(through_music21(seed) for seed in SAMPLE[:3]) == 0


@pytest.mark.slow
def test_three_hundred_rhythms_come_back_as_they_went_out(tmp_path):
    assert sum(differences(seed) for seed in SWEEP) == 0
    assert sum(through_a_score(seed, tmp_path) for seed in SWEEP) == 0
    assert sum(through_music21(seed) for seed in SWEEP[::20]) == 0
