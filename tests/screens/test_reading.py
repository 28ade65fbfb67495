"""An independent reader recovers the notes from the drawing.

The reader knows the drawing (which row is which line, what a head looks like, where the signature
stands) and the rules of common notation: a signature holds in every octave, an accidental for its
bar and its octave, 8va means an octave higher than written. It uses nothing of the code that drew.
"""

from __future__ import annotations

import random
import re
from fractions import Fraction

import pytest

from tests.screens.rounds import round_of
from trainer.music.articulations import articulated
from trainer.music.note import Articulation, Note, Start
from trainer.music.pitch import LETTERS, Pitch
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Row
from trainer.screens.drawing.octave_sign import lowered_notes
from trainer.screens.drawing.staff import staff_rows
from trainer.screens.drawing.staff_rows import frame, sheet
from trainer.screens.drawing.systems import systems

BARS_IN_EACH_KEY = 14
BEATS_IN_BAR = 4
G_LINE = (4, LETTERS.index("G"))
ORDER_OF_SHARPS = "FCGDAEB"
SIGN_VALUES = {"♯": 1, "♭": -1, "♮": 0, "x": 2, "♭♭": -2}
SIGNATURE_COLUMN = 6
WIDTH = 200
STAFF_LINE = re.compile(r"^─")
ON_LINE, UPPER_HALF, LOWER_HALF = re.compile("██"), re.compile("[▄▟]▄|▄[▄▟]"), re.compile("▀▀|▛▀")


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


def drawn(notes: tuple[Note, ...], signature: int, highest: int) -> tuple[Row, ...]:
    """The bar on one staff, wide enough for one system."""
    return drawn_round(round_of(notes, signature, BEATS_IN_BAR), highest)


def drawn_round(round_: Round, highest: int = 99) -> tuple[Row, ...]:
    """A short round on one staff."""
    (system,) = systems(round_, WIDTH)
    lowered = lowered_notes(round_.notes, highest)
    return staff_rows(system, sheet(round_, lowered), frame(round_.notes, lowered), WIDTH)


class Reader:
    """Reads a staff from left to right."""

    def __init__(self, texts: list[str]) -> None:
        self.texts = texts
        lines = [row for row, text in enumerate(texts) if STAFF_LINE.match(text)]
        assert len(lines) == 5
        self.g_row = lines[3]
        self.signature = self._signature()

    def step(self, row: int, below: int = 0) -> int:
        """Diatonic step counted from C0 of the line in a row, or so many steps below it."""
        octave, letter = G_LINE
        return 7 * octave + letter + 2 * (self.g_row - row) - below

    def _signature(self) -> dict[str, int]:
        signs = []
        for column in range(SIGNATURE_COLUMN, SIGNATURE_COLUMN + 7):
            found = [text[column] for text in self.texts if text[column] in "♯♭"]
            if not found:
                break
            signs += found
        order = ORDER_OF_SHARPS if "♯" in signs else ORDER_OF_SHARPS[::-1]
        return {letter: SIGN_VALUES[sign] for letter, sign in zip(order, signs, strict=False)}

    def heads(self) -> list[tuple[int, int]]:
        """Column and step of every head, from left to right."""
        found = []
        first = SIGNATURE_COLUMN + len(self.signature) + 1
        for row, text in enumerate(self.texts):
            for match in ON_LINE.finditer(text, first):
                found.append((match.start(), self.step(row)))
            below = self.texts[row + 1] if row + 1 < len(self.texts) else ""
            for match in UPPER_HALF.finditer(text, first):
                column = match.start()
                assert LOWER_HALF.match(below, column), "half a head alone"
                found.append((column, self.step(row, below=1)))
        return sorted(found)

    def sign_before(self, column: int, step: int) -> str:
        """The accidental against a head: its rows are those the head touches."""
        row = self.g_row - (step - self.step(self.g_row)) // 2
        rows = (row,) if step % 2 == self.step(self.g_row) % 2 else (row, row - 1)
        for place in rows:
            before = self.texts[place][:column]
            for sign in ("♭♭", "♯", "♭", "♮", "x"):
                if before.endswith(sign):
                    return sign
        return ""

    def octave_higher(self, column: int) -> bool:
        return any(
            match.start() <= column < match.end()
            for match in re.finditer("8v?a?╌*┐?", self.texts[0])
        )

    def read(self) -> list[Pitch]:
        in_force: dict[int, int] = {}
        pitches = []
        for column, written in self.heads():
            sounding = written + 7 * self.octave_higher(column)
            octave, letter = divmod(sounding, 7)
            sign = self.sign_before(column, written)
            usual = self.signature.get(LETTERS[letter], 0)
            alter = SIGN_VALUES[sign] if sign else in_force.get(sounding, usual)
            in_force[sounding] = alter
            pitches.append(Pitch(LETTERS[letter], alter, octave))
        return pitches


@pytest.mark.parametrize("highest", [99, Pitch.parse("A5").staff_step])
@pytest.mark.parametrize("signature", range(-7, 8))
def test_a_reader_recovers_every_note(signature: int, highest: int) -> None:
    dice = random.Random(100 * signature + highest)
    for _ in range(BARS_IN_EACH_KEY):
        each = dice.choice((Fraction(1), Fraction(1, 2), Fraction(1, 4), Fraction(1, 3)))
        notes = random_bar(dice, each)
        texts = [row.text for row in drawn(notes, signature, highest)]
        assert Reader(texts).read() == [note.pitch for note in notes], "\n".join(texts)


@pytest.mark.parametrize("signature", range(-7, 8))
def test_the_signature_is_read_as_it_was_meant(signature: int) -> None:
    dice = random.Random(signature)
    reader = Reader([row.text for row in drawn(random_bar(dice, Fraction(1)), signature, 99)])
    assert sum(reader.signature.values()) == signature
