"""An independent reader recovers note values, ties and bars from the drawing, in every metre.

The reader knows the drawing (a stem's free end, one beam or more, a dot, a tie's two ends, the
figure in a tuplet's beam) and the rules of common notation for values; it uses nothing of the code
that drew, and never looks at where a note stands from left to right. That six eighths make a bar of
6/8 in two groups of three, nine and twelve in three and four, is common notation too.
"""

from __future__ import annotations

import random
import re
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain

import pytest

from tests.screens.rounds import round_of
from tests.screens.test_reading import SIGNATURE_COLUMN, Reader, drawn_round
from trainer.music.note import Note, Start
from trainer.music.pitch import LETTERS, Pitch
from trainer.routine.round import Round
from trainer.screens.drawing.systems import systems

BARS_IN_EACH_METRE = 40
A_TENTH = 10
LOWEST = [Pitch.parse(name).staff_step for name in ("C4", "F4", "B4", "E5", "A5")]
HOLLOW = re.compile(r"\(\)|┏[┓┫]|┣┓")
WHOLE_HEAD = re.compile(r"██|[▄▟]▄|▄[▄▟]")
ONE_BEAM, MORE_BEAMS = "┍┯┑┕┷┙", "╒╤╕╘╧╛"
VALUE_OF_END = dict.fromkeys(ONE_BEAM, Fraction(1, 2)) | dict.fromkeys(MORE_BEAMS, Fraction(1, 4))
BEAM_FIRST, BEAM_LAST = "┍┕╒╘", "┑┙╕╛"
DOTS, TIE = "▘▖", "‿"
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


@dataclass
class Sign:
    """One head as read."""

    value: Fraction
    """Quarters, as if no tuplet were there."""
    step: int
    tied_on: bool
    tied_back: bool
    begins_beam: bool
    ends_beam: bool
    stem_end: tuple[int, int]
    """Row and column."""


class ValueReader(Reader):
    """Reads what kind of note each head is."""

    def signs(self) -> list[Sign]:
        """Every head from left to right."""
        first = SIGNATURE_COLUMN + len(self.signature) + 1
        heads = []
        for row, text in enumerate(self.texts):
            heads += [(m.start(), row, True) for m in HOLLOW.finditer(text, first)]
            heads += [(m.start(), row, False) for m in WHOLE_HEAD.finditer(text, first)]
        return [self._sign(*head) for head in sorted(heads)]

    def _sign(self, column: int, row: int, hollow: bool) -> Sign:
        text = self.texts[row]
        in_space = text[column] not in "█("
        dots = len(text[column + 2 :]) - len(text[column + 2 :].lstrip(DOTS))
        end_row, end_column = self._stem_end(column, row, in_space)
        mark = self.texts[end_row][end_column]
        if hollow:
            value = Fraction(2) if end_row not in (row, row + in_space) else Fraction(4)
        else:
            value = (
                Fraction(1, 2)
                if mark in ONE_BEAM
                else Fraction(1, 4)
                if mark in MORE_BEAMS
                else Fraction(1)
            )
        return Sign(
            value=value * (2 - Fraction(1, 2**dots)),
            step=self.step(row, below=int(in_space)),
            tied_on=text[column + 2 + dots] == TIE,
            tied_back=text[column - 1] == TIE,
            begins_beam=mark in BEAM_FIRST,
            ends_beam=mark in BEAM_LAST,
            stem_end=(end_row, end_column),
        )

    def _stem_end(self, column: int, row: int, in_space: bool) -> tuple[int, int]:
        """Row and column of the free end: up on the right of a head, or down on its left."""
        stem = "│" + ONE_BEAM + MORE_BEAMS
        for x, start, direction in ((column + 1, row, -1), (column, row + in_space, 1)):
            end = start
            while 0 <= end + direction < len(self.texts) and self.texts[end + direction][x] in stem:
                end += direction
            if end != start:
                return end, x
        return row, column

    def lengths(self) -> list[tuple[int, Fraction]]:
        """Staff step and quarters of every sounding note: tuplets shortened, ties joined."""
        signs = self.signs()
        notes: list[tuple[int, Fraction]] = []
        for sign, short in zip(signs, self._in_tuplets(signs), strict=True):
            if sign.tied_back:
                step, before = notes.pop()
                assert step == sign.step
                notes.append((step, before + sign.value * short))
            else:
                notes.append((sign.step, sign.value * short))
        return notes

    def beams(self) -> list[list[Sign]]:
        """Heads joined by a beam."""
        groups: list[list[Sign]] = []
        for sign in self.signs():
            if sign.begins_beam:
                groups.append([])
            if sign.begins_beam or (groups and not groups[-1][-1].ends_beam):
                groups[-1].append(sign)
        return groups

    def _in_tuplets(self, signs: list[Sign]) -> list[Fraction]:
        shares = [Fraction(1)] * len(signs)
        for group in self.beams():
            row, first = group[0].stem_end
            figure = re.search(r"\d", self.texts[row][first : group[-1].stem_end[1]])
            if figure:
                share = {"3": Fraction(2, 3), "6": Fraction(2, 3)}[figure[0]]
                for sign in group:
                    shares[signs.index(sign)] = share
        return shares


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


def read(round_: Round) -> ValueReader:
    return ValueReader([row.text for row in drawn_round(round_)])


@pytest.mark.parametrize("metre", COMPOUND)
def test_values_of_a_compound_bar_are_read(metre: str) -> None:
    beats = COMPOUND[metre]
    dice = random.Random(metre)
    for _ in range(BARS_IN_EACH_METRE):
        filled = bar_of(dice, beats, IN_EIGHTHS, Fraction(1, 2))
        round_ = round_with(dice, list(chain(*filled)), beats, DOTTED_QUARTER)
        reader = read(round_)
        told = "\n".join(reader.texts)
        assert reader.read() == [note.pitch for note in round_.notes], told
        expected = [(n.pitch.staff_step, n.length * DOTTED_QUARTER) for n in round_.notes]
        assert reader.lengths() == expected, told


@pytest.mark.parametrize("metre", COMPOUND)
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
    assert not re.search(r"\d", "\n".join(reader.texts))


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
