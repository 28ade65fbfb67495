"""Note values: how many beams a length asks for, which notes a beam joins, and tuplet figures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise

from trainer.music.note import Note

HALF_NOTE = Fraction(2)
WHOLE_NOTE = Fraction(4)


def beams(length: Fraction) -> int:
    """Beams or flags of a note that lasts so many quarter-note beats."""
    if length >= 1:
        return 0
    if length.numerator == 3 and _power_of_two(length.denominator):  # dotted
        length = length * 2 / 3
    return math.floor(math.log2(1 / length))


def is_dotted(length: Fraction) -> bool:
    """A length half as long again as a plain value."""
    return length.numerator == 3 and _power_of_two(length.denominator)


def _power_of_two(number: int) -> bool:
    return number & (number - 1) == 0


def cut_at_bar_lines(notes: Sequence[Note], beats_per_bar: int) -> tuple[Note, ...]:
    """The notes as they are written: one held over a bar line becomes two of the same index."""
    parts: list[Note] = []
    for note in notes:
        beat, end = note.beat, note.beat + note.length
        while beat < end:
            bar_line = (beat // beats_per_bar + 1) * Fraction(beats_per_bar)
            parts.append(replace(note, beat=beat, length=min(end, bar_line) - beat))
            beat = min(end, bar_line)
    return tuple(parts)


@dataclass(frozen=True)
class Group:
    """Notes joined by one beam, or one note alone."""

    notes: tuple[Note, ...]

    @property
    def beams(self) -> int:
        """Beams the whole group has in common."""
        return min(beams(note.length) for note in self.notes)

    @property
    def tuplet(self) -> int | None:
        """The figure to write at the beam: 3 for triplets; None for plain values."""
        denominator = max(note.length.denominator for note in self.notes)
        odd = denominator // (denominator & -denominator)
        return None if odd == 1 else odd * 2 if denominator % 2 == 0 else odd


def groups(notes: Sequence[Note]) -> list[Group]:
    """Beamed notes of each beat joined, every other note alone."""
    joined: list[Group] = []
    for (_, beamed), run in groupby(notes, key=lambda n: (n.beat // 1, beams(n.length) > 0)):
        members = tuple(run)
        joined += [Group(members)] if beamed else [Group((note,)) for note in members]
    return joined


def rests(notes: Sequence[Note]) -> list[tuple[Fraction, Fraction]]:
    """Beginning and length, in beats, of every silence between two notes."""
    return [
        (note.beat + note.length, after.beat - note.beat - note.length)
        for note, after in pairwise(notes)
        if after.beat > note.beat + note.length
    ]
