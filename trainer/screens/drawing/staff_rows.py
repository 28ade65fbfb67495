"""Where a staff's rows stand, and what stays the same from system to system."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.routine.round import Round
from trainer.screens.drawing.accidentals import accidentals
from trainer.screens.drawing.note_values import WrittenRound, written

BOTTOM_LINE = Pitch.parse("E4").staff_step
TOP_LINE = Pitch.parse("F5").staff_step
LOWEST_ROW = Pitch.parse("C4").staff_step
HIGHEST_ROW = Pitch.parse("A5").staff_step
"""The rows that are always there: the clef reaches from one to the other."""
SIGN_ROWS = 1
"""Above the staff: slurs, starts and breaths."""


@dataclass(frozen=True)
class Frame:
    """The rows a system is drawn in."""

    lowest: int
    """Staff step of the lowest row; even, as staff lines are."""
    highest: int
    octave_row: bool
    """A row of its own for the octave sign."""

    @property
    def sign_rows(self) -> int:
        """Rows above the staff."""
        return SIGN_ROWS + self.octave_row

    @property
    def height(self) -> int:
        """Rows in all."""
        return self.sign_rows + (self.highest - self.lowest) // 2 + 1

    def row(self, step: int) -> int:
        """The row of a line's step; for a space, the row of the line above it."""
        return self.sign_rows + (self.highest - step) // 2


def written_step(note: Note, lowered: frozenset[int]) -> int:
    """Where the note's head stands."""
    return note.pitch.staff_step - (7 if note.index in lowered else 0)


def frame(notes: Sequence[Note], lowered: frozenset[int]) -> Frame:
    """Rows enough for every note."""
    steps = [written_step(note, lowered) for note in notes]
    lowest = min([LOWEST_ROW, *(step - step % 2 for step in steps)])
    highest = max([HIGHEST_ROW, *(step + step % 2 for step in steps)])
    return Frame(lowest, highest, bool(lowered & {note.index for note in notes}))


@dataclass(frozen=True)
class Sheet:
    """What stays the same from system to system."""

    signature: int
    beats_per_bar: int
    lowered: frozenset[int]
    """Indices of the notes under an octave sign."""
    signs: dict[int, str]
    """Accidentals by note index."""
    written: WrittenRound
    """The signs of the whole round."""
    slurred: frozenset[int]
    """Indices of the notes slurred to the one before."""
    doubled: bool
    """Front and back strokes alternate, so both are written out."""
    last_beat: Fraction
    """Where the final bar line stands."""
    others: frozenset[int] = frozenset()
    """Indices of the notes the partner plays alone."""


def signature_of(round_: Round) -> int:
    """Sharps, or flats below nought."""
    return round_.key.signature if round_.key else 0


def sheet(round_: Round, lowered: frozenset[int] = frozenset()) -> Sheet:
    """Work out the signs and accidentals of a whole round."""
    notes, signature = round_.printed, signature_of(round_)
    return Sheet(
        signature=signature,
        beats_per_bar=round_.beats_per_bar,
        lowered=lowered,
        signs=accidentals(notes, signature, round_.beats_per_bar, lowered),
        written=written(round_),
        slurred=frozenset(note.index for note in notes if note.start is Start.SLURRED),
        doubled=any(note.start is Start.BACK_TONGUED for note in notes),
        last_beat=round_.beats,
        others=frozenset(note.index for note in round_.partner_notes),
    )
