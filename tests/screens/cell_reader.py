"""An independent reader of music drawn in cells, at the scale of a row a line.

It knows how signs are drawn (quarters of cells, text, lines) and the rules of common notation, and
nothing of the code that draws: where a sign stands is read from its dots alone, so that a signature
a step off is read as the wrong notes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from trainer.music.pitch import LETTERS, Pitch

QUARTERS = " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"
HEAD = (".###", "###.")
HOLLOW_ON_LINE, HOLLOW_IN_SPACE = "⢎⡱", ("⡠⢄", "⠑⠊")
ACCIDENTALS = {
    1: (3, ("#.#", "###", "#.#", "#.#", "###", "#.#")),
    -1: (3, ("#..", "#..", "##.", "#.#", "##.")),
    0: (3, ("#..", "###", "#.#", "#.#", "###", "..#")),
    2: (2, ("#.#", ".#.", ".#.", "#.#")),
    -2: (3, ("#..#..", "#..#..", "##.##.", "#.##.#", "##.##.")),
}
"""How many rows lie above the place, and the dots."""
RESTS = {
    Fraction(1, 16): (6, ("##.#", ".##.", "##.#", ".##.", "##.#", ".##.", "###.", ".#..", "#...")),
    Fraction(1, 8): (4, ("##.#", ".##.", "##.#", ".##.", "###.", ".#..", "#...")),
    Fraction(1, 4): (2, ("##.#", ".##.", "###.", ".#..", "#...")),
    Fraction(1, 2): (2, ("##.#", ".##.", "..#.", ".#..")),
    Fraction(1): (3, ("##.", ".##", ".#.", "##.", ".##", ".#.")),
    Fraction(2): (1, ("####",)),
}
"""About the middle line, the shortest first, since it holds the longer; a whole rest hangs under
the line above."""
WHOLE_REST = (0, ("####",))
ORDER_OF_SHARPS = "FCGDAEB"
ONE_BEAM, TWO_BEAMS = "┍┯┑┕┷┙", "╒╤╕╘╧╛"
THREE_BEAMS, FOUR_BEAMS = "┝┿┥", "╞╪╡"
BEAM_FIRST, BEAM_LAST = "┍┕╒╘", "┑┙╕╛"
TIE = "‿"
FIRST_SIGN_COLUMN = 6
E4 = 7 * 4 + LETTERS.index("E")


@dataclass
class ReadNote:
    """One head as read."""

    column: int
    step: int
    """Diatonic steps from C0."""
    pitch: Pitch | None
    value: Fraction
    """Quarters, as if no tuplet were there."""
    tied_on: bool
    tied_back: bool
    begins_beam: bool
    ends_beam: bool
    stem_end: tuple[int, int]
    """Row and column."""


class CellReader:
    """Reads a staff from left to right."""

    def __init__(self, texts: list[str]) -> None:
        self.texts = texts
        self.lines = [row for row, text in enumerate(texts) if text.startswith("─")]
        assert len(self.lines) == 5
        self.dots = [self._dot_row(texts[y // 2], y % 2) for y in range(2 * len(texts))]
        self.signature, self.first = self._signature()
        self.metre = self._metre()

    def _dot_row(self, text: str, lower: int) -> str:
        masks = [max(QUARTERS.find(cell), 0) >> (2 * lower) for cell in text]
        return "".join("#" if mask & bit else "." for mask in masks for bit in (1, 2))

    def place_y(self, step: int) -> int:
        """The dot row below the middle of a step's place."""
        return 2 * self.lines[-1] + 1 - (step - E4)

    def stands(self, x: int, step: int, above: int, drawing: tuple[str, ...]) -> bool:
        """Whether exactly this drawing lies with its left edge here."""
        top = self.place_y(step) - above
        if top < 0 or top + len(drawing) > len(self.dots) or x < 0:
            return False
        return all(self.dots[y].startswith(row, x) for y, row in enumerate(drawing, top))

    @property
    def steps(self) -> range:
        """Every place a head can have."""
        lowest = E4 - 2 * (len(self.texts) - 1 - self.lines[-1])
        return range(lowest, E4 + 2 * self.lines[-1] + 1)

    def _signature(self) -> tuple[dict[str, int], int]:
        """Letters by where the signs stand, and the column after them."""
        found: dict[str, int] = {}
        x = 2 * FIRST_SIGN_COLUMN
        while True:
            for alter, pitch_dots in ((1, 4), (-1, 3)):
                drawn = ACCIDENTALS[alter]
                steps = [step for step in range(E4, E4 + 10) if self.stands(x, step, *drawn)]
                if steps and set(found.values()) <= {alter}:
                    (step,) = steps
                    found[LETTERS[step % 7]] = alter
                    x += pitch_dots
                    break
            else:
                return found, -(-x // 2)

    def _metre(self) -> tuple[int, int] | None:
        """The figures on the fourth line and on the second."""
        found = [
            re.match(r"[─\s]?(\d+)", self.texts[self.lines[place]][self.first : self.first + 3])
            for place in (1, 3)
        ]
        if not all(found):
            return None
        upper, lower = (int(match[1]) for match in found if match)
        self.first += 2
        return upper, lower

    @cached_property
    def heads(self) -> list[tuple[int, int, bool]]:
        """Column, step and whether it is hollow, from left to right."""
        found = []
        width = len(self.texts[0])
        for column in range(self.first, width - 1):
            for step in self.steps:
                if self.stands(2 * column, step, 1, HEAD):
                    found.append((column, step, False))
            for row, text in enumerate(self.texts):
                line_step = E4 + 2 * (self.lines[-1] - row)
                if text[column : column + 2] == HOLLOW_ON_LINE:
                    found.append((column, line_step, True))
                if text[column : column + 2] == HOLLOW_IN_SPACE[0]:
                    assert self.texts[row + 1][column : column + 2] == HOLLOW_IN_SPACE[1]
                    found.append((column, line_step - 1, True))
        return found

    def accidental(self, column: int, step: int) -> int | None:
        """What stands right before a head."""
        for alter in (-2, 1, -1, 0, 2):
            above, drawing = ACCIDENTALS[alter]
            if self.stands(2 * column - 1 - len(drawing[0]), step, above, drawing):
                return alter
        return None

    def octave_higher(self, column: int) -> bool:
        """Whether an octave sign reaches over the column."""
        signs = re.finditer(r"8va╌*┐", self.texts[0])
        return any(match.start() <= column < match.end() for match in signs)

    def bar_lines(self) -> list[int]:
        """Columns of lines through the whole staff."""
        rows = range(self.lines[0], self.lines[-1] + 1)
        return [
            column
            for column in range(self.first, len(self.texts[0]))
            if {self.texts[row][column] for row in rows} in ({"│"}, {"║"})
            and self.texts[self.lines[0] - 1][column] not in "│┍┯┑╒╤╕┐"
            and self.texts[self.lines[-1] + 1][column] not in "│┕┷┙╘╧╛┐"
        ]

    @cached_property
    def notes(self) -> list[ReadNote]:
        """Every head from left to right."""
        bars = self.bar_lines()
        in_force: dict[int, int] = {}
        bar, found = 0, []
        for column, step, hollow in self.heads:
            at = sum(line < column for line in bars)
            if at != bar:
                bar, in_force = at, {}
            note = self._note(column, step, hollow)
            sign = self.accidental(column, step)
            sounding = step + 7 * self.octave_higher(column)
            octave, letter = divmod(sounding, 7)
            usual = self.signature.get(LETTERS[letter], 0)
            alter = in_force.get(sounding, usual) if sign is None else sign
            if note.tied_back and found and found[-1].pitch is not None:
                alter = found[-1].pitch.alter
            else:
                in_force[sounding] = alter
            note.pitch = Pitch(LETTERS[letter], alter, octave)
            found.append(note)
        return found

    def _note(self, column: int, step: int, hollow: bool) -> ReadNote:
        row = self.lines[-1] - (step - E4 + 1) // 2
        in_space = bool((step - E4) % 2)
        end_row, end_column = self._stem_end(column, row, in_space)
        mark = self.texts[end_row][end_column]
        if hollow:
            value = Fraction(2) if end_row not in (row, row + in_space) else Fraction(4)
        else:
            value = Fraction(1, 2 ** self._beams(mark, end_row, end_column, row))
        dots = self._dots_behind(column, step)
        return ReadNote(
            column=column,
            step=step,
            pitch=None,
            value=value * (2 - Fraction(1, 2**dots)),
            tied_on=self.texts[row][column + 2 + dots] == TIE,
            tied_back=self.texts[row][column - 1] == TIE,
            begins_beam=mark in BEAM_FIRST,
            ends_beam=mark in BEAM_LAST,
            stem_end=(end_row, end_column),
        )

    def _beams(self, mark: str, row: int, column: int, head_row: int) -> int:
        if mark not in ONE_BEAM + TWO_BEAMS:
            return 0
        inner = self.texts[row + (1 if head_row > row else -1)][column]
        if inner in THREE_BEAMS:
            return 3
        if inner in FOUR_BEAMS:
            return 4
        return 1 if mark in ONE_BEAM else 2

    def _dots_behind(self, column: int, step: int) -> int:
        """A dot stands in the space at or above the head's place, right half of its column."""
        in_space = step + 1 - (step - E4) % 2
        dots, x = 0, 2 * (column + 2)
        while self.stands(x, in_space, 0, (".#",)):
            dots, x = dots + 1, x + 2
        return dots

    def _stem_end(self, column: int, row: int, in_space: bool) -> tuple[int, int]:
        """Row and column of the free end: up on the right of a head, or down on its left."""
        stem = "│" + ONE_BEAM + TWO_BEAMS + THREE_BEAMS + FOUR_BEAMS
        for x, start, direction in ((column + 1, row, -1), (column, row + in_space, 1)):
            end = start
            while 0 <= end + direction < len(self.texts) and self.texts[end + direction][x] in stem:
                end += direction
                if self.texts[end][x] in ONE_BEAM + TWO_BEAMS:
                    break
            if end != start:
                return end, x
        return row, column

    def rests(self) -> list[tuple[int, Fraction]]:
        """Column and value in quarters, dots counted; a whole rest is as long as its bar."""
        heads = {column for column, _, _ in self.heads}
        middle = E4 + 4
        found = []
        for column in range(self.first, len(self.texts[0]) - 4):
            if {column - 1, column, column + 1} & heads:
                continue
            for value, (above, drawing) in RESTS.items():
                if self.stands(2 * column, middle, above, drawing):
                    dots = self._dots_behind(column, middle)
                    found.append((column, value * (2 - Fraction(1, 2**dots))))
                    break
            if self.stands(2 * column, middle + 2, *WHOLE_REST):
                found.append((column, Fraction(4)))
        return found

    def pitches(self) -> list[Pitch]:
        """Of every note, a held one once."""
        return [note.pitch for note in self.notes if note.pitch and not note.tied_back]

    def beams(self) -> list[list[ReadNote]]:
        """Heads joined by a beam."""
        groups: list[list[ReadNote]] = []
        for note in self.notes:
            if note.begins_beam:
                groups.append([])
            if note.begins_beam or (groups and not groups[-1][-1].ends_beam):
                groups[-1].append(note)
        return groups

    def lengths(self) -> list[tuple[int, Fraction]]:
        """Staff step and quarters of every sounding note: tuplets shortened, ties joined."""
        notes = self.notes
        found: list[tuple[int, Fraction]] = []
        for note, short in zip(notes, self._in_tuplets(notes), strict=True):
            if note.tied_back:
                step, before = found.pop()
                assert step == note.step
                found.append((step, before + note.value * short))
            else:
                found.append((note.step, note.value * short))
        return found

    def _in_tuplets(self, notes: list[ReadNote]) -> list[Fraction]:
        shares = dict.fromkeys((note.column for note in notes), Fraction(1))
        for group in self.beams():
            row, first = group[0].stem_end
            figure = re.search(r"\d", self.texts[row][first : group[-1].stem_end[1]])
            if figure:
                share = {"3": Fraction(2, 3), "6": Fraction(2, 3)}[figure[0]]
                shares |= dict.fromkeys((note.column for note in group), share)
        return [shares[note.column] for note in notes]
