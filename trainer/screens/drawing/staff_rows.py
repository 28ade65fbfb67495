"""Where a staff's rows stand, and what stays the same from system to system."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.routine.round import Round, Swell
from trainer.screens.drawing.accidentals import accidentals
from trainer.screens.drawing.note_values import WrittenRound, written
from trainer.screens.drawing.scale import COMPACT, StaffScale
from trainer.screens.drawing.staff_items import spaces

TOP_LINE = Pitch.parse("F5").staff_step
LOWEST_ROW = Pitch.parse("C4").staff_step
HIGHEST_ROW = Pitch.parse("A5").staff_step
"""The rows that are always there: the clef reaches from one to the other."""
ACCIDENTAL_STEPS = 2
"""An accidental reaches so far above its head and below it, beyond the head's own rows."""
BEAMS_IN_STEM = 2
"""Beams that a stem of the usual length has room for."""
THIRD_BEAM_STEPS = 4
"""Where stems find no more room, so much for the third beam and the fourth."""


@dataclass(frozen=True)
class Frame:
    """The rows a system is drawn in."""

    lowest: int
    """Staff step of the lowest row; even, as staff lines are."""
    highest: int
    octave_row: bool = False
    """A row of its own for the octave sign."""
    marks_row: bool = False
    """A row for dots, strokes, accents and ornaments, under that of slurs and starts."""
    level_row: bool = False
    """A row below for dynamics and hairpins."""
    scale: StaffScale = COMPACT

    @property
    def rows_above(self) -> int:
        """Rows above the highest line; where lines are two rows apart, half a head needs one."""
        signs = 1 + self.octave_row + self.marks_row
        return self.scale.marker_rows + signs + (self.scale.rows_a_space - 1)

    @property
    def height(self) -> int:
        """Rows in all."""
        lines = (self.highest - self.lowest) // 2 * self.scale.rows_a_space + 1
        return self.rows_above + lines + (self.scale.rows_a_space - 1) + self.level_row

    @property
    def top(self) -> float:
        """Staff spaces from the lowest line up to the middle of the uppermost row."""
        return spaces(self.highest) + self.rows_above / self.scale.rows_a_space

    def y_of_row(self, row: int) -> float:
        """The middle of a row, counted from the top, in staff spaces."""
        return self.top - row / self.scale.rows_a_space

    def row(self, y: float) -> float:
        """The row, with its fraction, of a place in staff spaces."""
        return (self.top - y) * self.scale.rows_a_space

    @property
    def starts_y(self) -> float:
        """Where slurs and starts stand."""
        return self.y_of_row(self.scale.marker_rows + self.octave_row)

    @property
    def marks_y(self) -> float:
        """Where dots, strokes and accents stand."""
        return self.y_of_row(self.scale.marker_rows + self.octave_row + 1)

    @property
    def level_y(self) -> float:
        """Where dynamics and hairpins stand."""
        return self.y_of_row(self.height - 1)


def written_step(note: Note, lowered: frozenset[int]) -> int:
    """Where the note's head stands."""
    return note.pitch.staff_step - (7 if note.index in lowered else 0)


@dataclass(frozen=True)
class Sheet:
    """What stays the same from system to system."""

    beat_quarters: Fraction
    """Quarter notes in a beat, as it is written."""
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
    swell: Swell | None = None
    """What the level of each note is to do."""
    tempos: Mapping[int, str] = field(default_factory=dict)
    """Index of a note with which another tempo begins → '=84', in the beats of its bar."""


def sheet(round_: Round, lowered: frozenset[int] = frozenset()) -> Sheet:
    """Work out the signs and accidentals of a whole round."""
    notes = round_.printed
    return Sheet(
        beat_quarters=round_.beat_quarters,
        lowered=lowered,
        signs=accidentals(notes, round_.bars, lowered),
        written=written(round_),
        slurred=frozenset(note.index for note in notes if note.start is Start.SLURRED),
        doubled=any(note.start is Start.BACK_TONGUED for note in notes),
        last_beat=round_.beats,
        others=frozenset(note.index for note in round_.partner_notes),
        swell=round_.manner.swell,
        tempos={
            after.index: f"={_bpm_at(after, round_):.0f}"
            for before, after in pairwise(notes)
            if before.tempo_share != after.tempo_share
        },
    )


def _bpm_at(note: Note, round_: Round) -> float:
    """The tempo from a note on, in beats of the time signature that holds there."""
    return note.tempo_share * round_.tempo_bpm / float(round_.bars.at(note.beat).beat)


def frame(notes: Sequence[Note], sheet: Sheet, scale: StaffScale = COMPACT) -> Frame:
    """Rows enough for every note and the signs it has."""
    steps = {note.index: written_step(note, sheet.lowered) for note in notes}
    signed = [step for index, step in steps.items() if index in sheet.signs]
    short = {
        part.note.index
        for part in sheet.written.parts
        if part.note.index in steps and part.symbol.flags > BEAMS_IN_STEM
    }
    beamed = [steps[index] for index in short]
    lowest = [step - reach for step, reach in _reaching(steps.values(), signed, beamed)]
    highest = [step + reach for step, reach in _reaching(steps.values(), signed, beamed)]
    return Frame(
        lowest=min([LOWEST_ROW, *(step - step % 2 for step in lowest)]),
        highest=max([HIGHEST_ROW, *(step + step % 2 for step in highest)]),
        octave_row=not sheet.lowered.isdisjoint(steps),
        marks_row=any(note.mark or note.ornament or note.fermata or note.graces for note in notes),
        level_row=sheet.swell is not None
        or any(note.dynamic or note.hairpin or note.index in sheet.tempos for note in notes),
        scale=scale,
    )


def _reaching(
    heads: Iterable[int], signed: Iterable[int], beamed: Iterable[int]
) -> Iterator[tuple[int, int]]:
    """Steps, and how far above and below something of theirs reaches."""
    yield from ((step, 0) for step in heads)
    yield from ((step, ACCIDENTAL_STEPS) for step in signed)
    yield from ((step, THIRD_BEAM_STEPS) for step in beamed)
