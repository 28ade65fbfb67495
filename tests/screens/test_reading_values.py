"""An independent reader recovers note values, ties and bars from the drawing, in every metre.

The reader never looks at where a note stands from left to right. That six eighths make a bar of 6/8
in two groups of three, nine and twelve in three and four, is common notation.
"""

from __future__ import annotations

import random
import re
from fractions import Fraction
from itertools import chain

import pytest

from tests.screens.cell_reader import CellReader
from tests.screens.rounds import round_of
from tests.screens.test_reading import drawn_round
from tests.sweeps import mostly_slow
from trainer.music.note import Note, Start
from trainer.music.pitch import LETTERS, Pitch
from trainer.routine.round import Round
from trainer.screens.drawing.systems import systems

BARS_IN_EACH_METRE = 20
A_TENTH = 10
LOWEST = [Pitch.parse(name).staff_step for name in ("C4", "F4", "B4", "E5", "A5")]
COMPOUND = {"6/8": 2, "9/8": 3, "12/8": 4}
DOTTED_QUARTER = Fraction(3, 2)
IN_EIGHTHS = (
    (3,),
    (2, 1),
    (1, 2),
    (1, 1, 1),
    (1, 1, Fraction(1, 2), Fraction(1, 2)),
    (Fraction(1, 2), Fraction(1, 2), 2),
    (Fraction(3, 2), Fraction(1, 2), 1),
    (Fraction(1, 2),) * 6,
    (2, Fraction(1, 2), Fraction(1, 2)),
)
"""Ways to fill a beat of three eighths, in eighths."""
ALL_BEAMED = ((1, 1, 1), (Fraction(1, 2),) * 6, (1, 1, Fraction(1, 2), Fraction(1, 2)))
TRIPLET = (Fraction(1, 3),) * 3
IN_QUARTERS = (
    (Fraction(1),),
    (Fraction(1, 2), Fraction(1, 2)),
    (Fraction(1, 4),) * 4,
    (Fraction(1, 2), Fraction(1, 4), Fraction(1, 4)),
    (Fraction(3, 4), Fraction(1, 4)),
    TRIPLET,
)


def bar_of(
    dice: random.Random, beats: int, ways: tuple[tuple[Fraction | int, ...], ...], unit: Fraction
) -> list[list[Fraction]]:
    """Note lengths in quarters that fill a bar, beat by beat."""
    return [[length * unit for length in dice.choice(ways)] for _ in range(beats)]


def round_with(dice: random.Random, quarters: list[Fraction], beats: int, beat: Fraction) -> Round:
    """The lengths on random notes within a tenth, no two neighbours on the same line or space."""
    notes: list[Note] = []
    at, lowest = Fraction(0), dice.choice(LOWEST)
    for length in quarters:
        before = notes[-1].pitch.staff_step if notes else -1
        steps = [step for step in range(lowest, lowest + A_TENTH) if step != before]
        octave, letter = divmod(dice.choice(steps), 7)
        pitch = Pitch(LETTERS[letter], dice.choice((-1, 0, 0, 0, 1)), octave)
        notes.append(Note(len(notes), pitch, at / beat, length / beat, Start.TONGUED))
        at += length
    return round_of(notes, dice.randint(-7, 7), beats, beat)


def read(round_: Round) -> CellReader:
    return CellReader([row.text for row in drawn_round(round_)])


@pytest.mark.parametrize("metre", mostly_slow(COMPOUND, 1))
def test_values_of_a_compound_bar_are_read(metre: str) -> None:
    beats = COMPOUND[metre]
    dice = random.Random(metre)
    for _ in range(BARS_IN_EACH_METRE):
        filled = bar_of(dice, beats, IN_EIGHTHS, Fraction(1, 2))
        round_ = round_with(dice, list(chain(*filled)), beats, DOTTED_QUARTER)
        reader = read(round_)
        told = "\n".join(reader.texts)
        assert reader.pitches() == [note.pitch for note in round_.notes], told
        expected = [(n.pitch.staff_step, n.length * DOTTED_QUARTER) for n in round_.notes]
        assert reader.lengths() == expected, told


@pytest.mark.parametrize("metre", mostly_slow(COMPOUND, 1))
def test_beams_of_a_compound_bar_never_cross_a_dotted_quarter(metre: str) -> None:
    beats = COMPOUND[metre]
    dice = random.Random(f"beams {metre}")
    for _ in range(BARS_IN_EACH_METRE):
        filled = bar_of(dice, beats, ALL_BEAMED, Fraction(1, 2))
        reader = read(round_with(dice, list(chain(*filled)), beats, DOTTED_QUARTER))
        groups = [[sign.value for sign in group] for group in reader.beams()]
        assert groups == filled, "\n".join(reader.texts)


def test_no_figure_stands_in_a_compound_bar() -> None:
    eighths = [Fraction(1, 2)] * 6
    reader = read(round_with(random.Random(6), eighths, 2, DOTTED_QUARTER))
    drawn = "\n".join(text[reader.first :] for text in reader.texts)
    assert not re.search(r"\d", drawn)


@pytest.mark.parametrize(
    ("beats", "beat"), [(2, Fraction(1)), (3, Fraction(1)), (4, Fraction(1)), (2, Fraction(2))]
)
def test_values_of_a_simple_bar_are_read(beats: int, beat: Fraction) -> None:
    dice = random.Random(f"{beats} {beat}")
    for _ in range(BARS_IN_EACH_METRE):
        ways = IN_QUARTERS if beat == 1 else IN_QUARTERS[:-1]
        filled = bar_of(dice, int(beats * beat), ways, Fraction(1))
        round_ = round_with(dice, list(chain(*filled)), beats, beat)
        reader = read(round_)
        expected = [(n.pitch.staff_step, n.length * beat) for n in round_.notes]
        assert reader.lengths() == expected, "\n".join(reader.texts)


@pytest.mark.parametrize(
    ("quarters", "beats", "beat"),
    [
        ([Fraction(5, 2), Fraction(1, 2)], 2, DOTTED_QUARTER),
        ([Fraction(3), Fraction(3)], 2, DOTTED_QUARTER),
        ([Fraction(1, 2), Fraction(2), Fraction(1, 2)], 2, DOTTED_QUARTER),
        ([Fraction(5, 4), Fraction(3, 4), Fraction(2)], 4, Fraction(1)),
        ([Fraction(5), Fraction(3)], 4, Fraction(1)),
        ([Fraction(7, 4), Fraction(1, 4), Fraction(4, 2)], 4, Fraction(1)),
        ([Fraction(4)], 4, Fraction(1)),
    ],
)
def test_ties_dots_and_long_notes_are_read(
    quarters: list[Fraction], beats: int, beat: Fraction
) -> None:
    round_ = round_with(random.Random(str(quarters)), quarters, beats, beat)
    reader = read(round_)
    assert [length for _, length in reader.lengths()] == quarters, "\n".join(reader.texts)


def test_a_compound_round_is_broken_into_whole_bars() -> None:
    eighths = [Fraction(1, 2)] * 48
    round_ = round_with(random.Random(8), eighths, 2, DOTTED_QUARTER)
    lines = systems(round_, 80)
    assert len(lines) > 1
    assert {line.start % 2 for line in lines} == {0}
