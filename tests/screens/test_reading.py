"""An independent reader recovers the music from the drawing.

Until now the reader counted the signs of a signature, and took an accidental from either of the two
rows a head in a space touches: signs a step off were read as if they stood right. `cell_reader`
reads where each sign stands.
"""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import pairwise

import pytest

from tests.screens.cell_reader import CellReader
from tests.screens.rounds import round_of
from tests.sweeps import mostly_slow, slow_but_for
from trainer.music.articulations import articulated
from trainer.music.note import Articulation, Note, Start
from trainer.music.pitch import LETTERS, Pitch
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Row
from trainer.screens.drawing.octave_sign import lowered_notes
from trainer.screens.drawing.staff import staff_rows
from trainer.screens.drawing.staff_rows import frame, sheet
from trainer.screens.drawing.systems import systems

BARS_IN_EACH_KEY = 10
BEATS_IN_BAR = 4
BARS_IN_ALL = 300
BARS_QUICK = 30
WIDTH = 700
LINES_ABOVE = range(9)
TOP_LINE = Pitch.parse("F5").staff_step
QUARTER, EIGHTH, DOTTED_QUARTER = Fraction(1), Fraction(1, 2), Fraction(3, 2)
METRES = [(2, QUARTER), (3, QUARTER), (4, QUARTER), (2, DOTTED_QUARTER), (3, DOTTED_QUARTER),
          (4, DOTTED_QUARTER), (3, EIGHTH)]  # fmt: skip
VALUES = [Fraction(4) / 2**power for power in range(6)]
SIGNATURES_BY_STEP = {
    3: ["F5", "C5", "G5"],
    7: ["F5", "C5", "G5", "D5", "A4", "E5", "B4"],
    -3: ["B4", "E5", "A4"],
    -7: ["B4", "E5", "A4", "D5", "G4", "C5", "F4"],
}
"""Gould, Behind Bars (2011), 'Key signatures' (from memory): treble clef, from left to right."""


def random_pitch(dice: random.Random) -> Pitch:
    """Any letter from the lowest note to two octaves above the staff, with any accidental."""
    alter = dice.choices((-2, -1, 0, 1, 2), (1, 6, 8, 6, 1))[0]
    return Pitch(dice.choice(LETTERS), alter, dice.choice((4, 4, 5, 5, 6)))


def random_bar(dice: random.Random, each: Fraction) -> tuple[Note, ...]:
    count = int(BEATS_IN_BAR / each)
    notes = (
        Note(index, random_pitch(dice), index * each, each, Start.TONGUED) for index in range(count)
    )
    return articulated(notes, dice.choice((Articulation.SLURRED, Articulation.SINGLE)))


def drawn(notes: tuple[Note, ...], signature: int, highest: int = 99) -> tuple[Row, ...]:
    """The bar on one staff, wide enough for one system."""
    return drawn_round(round_of(notes, signature, BEATS_IN_BAR), highest)


def drawn_round(round_: Round, highest: int = 99) -> tuple[Row, ...]:
    """A short round on one staff."""
    (system,) = systems(round_, WIDTH)
    lowered = lowered_notes(round_.notes, highest)
    paper = sheet(round_, lowered)
    rows = frame(round_.notes, paper)
    return staff_rows(system, paper, rows, WIDTH)


def random_values(dice: random.Random, length: Fraction) -> list[Fraction]:
    """Note values, some dotted, that fill a stretch of quarters."""
    found: list[Fraction] = []
    while length:
        fitting = [v * dots for v in VALUES for dots in (1, Fraction(3, 2)) if v * dots <= length]
        on_the_grid = [v for v in fitting if (length - v) % VALUES[-1] == 0]
        found.append(dice.choice(on_the_grid))
        length -= found[-1]
    return found


def random_music(dice: random.Random, beats: int, beat: Fraction) -> Round:
    """A bar of notes and rests within a tenth, at most so many ledger lines up, and a last note."""
    lines = dice.choice(LINES_ABOVE)
    highest = TOP_LINE + 2 * lines
    lowest = dice.randrange(Pitch.parse("C4").staff_step, highest - 9)
    at, notes = Fraction(0), []
    for length in [*random_values(dice, beats * beat), beat]:
        silent = at < beats * beat and dice.random() < 0.25
        if not silent:
            before = notes[-1].pitch.staff_step if notes else -1
            steps = [step for step in range(lowest, highest + 1) if step != before]
            octave, letter = divmod(dice.choice(steps), 7)
            pitch = Pitch(LETTERS[letter], dice.choice((-2, -1, 0, 0, 0, 1, 2)), octave)
            notes.append(Note(len(notes), pitch, at / beat, length / beat, Start.TONGUED))
        at += length
    return round_of(notes, dice.randint(-7, 7), beats, beat)


def rests_asked(round_: Round) -> Fraction:
    """Quarters of silence before the last note ends."""
    sounding = sum(note.length for note in round_.notes)
    return (round_.beats - sounding) * round_.beat_quarters


@pytest.mark.parametrize("highest", mostly_slow([99, Pitch.parse("A5").staff_step], 1))
@pytest.mark.parametrize("signature", mostly_slow(range(-7, 8), 5))
def test_a_reader_recovers_every_note(signature: int, highest: int) -> None:
    dice = random.Random(100 * signature + highest)
    for _ in range(BARS_IN_EACH_KEY):
        each = dice.choice((Fraction(1), Fraction(1, 2), Fraction(1, 4), Fraction(1, 3)))
        notes = random_bar(dice, each)
        texts = [row.text for row in drawn(notes, signature, highest)]
        assert CellReader(texts).pitches() == [note.pitch for note in notes], "\n".join(texts)


@pytest.mark.parametrize("seed", slow_but_for(range(BARS_QUICK), range(BARS_IN_ALL)))
def test_three_hundred_bars_are_read(seed: int) -> None:
    """All keys, metres, values, rests, dots, accidentals, none to eight ledger lines."""
    dice = random.Random(f"bar {seed}")
    beats, beat = METRES[seed % len(METRES)]
    round_ = random_music(dice, beats, beat)
    texts = [row.text for row in drawn_round(round_)]
    told = "\n".join(texts)
    reader = CellReader(texts)
    assert reader.metre == ((beats * 3, 8) if beat == DOTTED_QUARTER else (beats, int(4 / beat))), (
        told
    )
    assert reader.pitches() == [note.pitch for note in round_.notes], told
    expected = [(n.pitch.staff_step, n.length * beat) for n in round_.notes]
    assert reader.lengths() == expected, told
    whole_bar = all(note.beat >= beats for note in round_.notes)
    read = sum((value for _, value in reader.rests()), Fraction(0))
    assert read == (4 if whole_bar else rests_asked(round_)), told


@pytest.mark.parametrize("signature", SIGNATURES_BY_STEP)
def test_each_sign_of_a_signature_stands_on_its_own_line_or_space(signature: int) -> None:
    notes = random_bar(random.Random(signature), Fraction(1))
    reader = CellReader([row.text for row in drawn(notes, signature)])
    alter = 1 if signature > 0 else -1
    assert reader.signature == {name[0]: alter for name in SIGNATURES_BY_STEP[signature]}


@pytest.mark.parametrize("signature", range(-7, 8))
def test_the_signature_is_read_as_it_was_meant(signature: int) -> None:
    dice = random.Random(signature)
    reader = CellReader([row.text for row in drawn(random_bar(dice, Fraction(1)), signature)])
    assert sum(reader.signature.values()) == signature


def test_the_metre_stands_on_the_first_system_alone() -> None:
    notes = [
        Note(beat, Pitch.parse("G4"), Fraction(beat), Fraction(1), Start.TONGUED)
        for beat in range(24)
    ]
    round_ = round_of(notes)
    lines = systems(round_, 80)
    music = sheet(round_)
    staves = [staff_rows(line, music, frame(notes, music), 80) for line in lines]
    readers = [CellReader([row.text for row in staff]) for staff in staves]
    assert len(readers) > 1
    assert [reader.metre for reader in readers] == [(4, 4), *[None] * (len(lines) - 1)]


def test_an_empty_bar_has_one_whole_rest_in_its_middle() -> None:
    places = [0, 1, 2, 3, 8]
    notes = [
        Note(index, Pitch.parse("G4"), Fraction(beat), Fraction(1), Start.TONGUED)
        for index, beat in enumerate(places)
    ]
    reader = CellReader([row.text for row in drawn_round(round_of(notes))])
    ((column, value),) = reader.rests()
    first, second = reader.bar_lines()[:2]
    assert value == 4
    assert abs(column - (first + second) / 2) <= 1


def test_each_rest_of_a_run_is_written() -> None:
    notes = [
        Note(0, Pitch.parse("G4"), Fraction(0), Fraction(1, 2), Start.TONGUED),
        Note(1, Pitch.parse("G4"), Fraction(2), Fraction(2), Start.TONGUED),
    ]
    reader = CellReader([row.text for row in drawn_round(round_of(notes))])
    assert [value for _, value in reader.rests()] == [Fraction(1, 2), Fraction(1)]


def test_the_last_note_of_a_climb_stands_with_the_others() -> None:
    notes = [
        Note(index, Pitch.parse("G4"), Fraction(index, 4), Fraction(1, 4), Start.TONGUED)
        for index in range(32)
    ]
    notes.append(Note(32, Pitch.parse("G4"), Fraction(8), Fraction(2), Start.TONGUED))
    for width in (80, 120, 200):
        lines = systems(round_of(notes), width)
        assert all(len(line.notes) > 1 for line in lines)
        assert [line.start % 2 for line in lines] == [0] * len(lines)
        assert all(before.end == after.start for before, after in pairwise(lines))
