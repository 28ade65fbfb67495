"""Breaking a round's music into systems: one line of music each, spaced to the beat."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from trainer.music.note import Note
from trainer.routine.round import Round
from trainer.score.symbols import time_signature
from trainer.screens.drawing.accidentals import accidentals
from trainer.screens.drawing.note_values import written
from trainer.screens.drawing.scale import COMPACT, StaffScale
from trainer.screens.drawing.staff_rows import signature_of

FINEST_GRID = 24
"""Beats are cut into at most so many even columns; odder divisions are rounded."""


@dataclass(frozen=True)
class System:
    """One line of music."""

    notes: tuple[Note, ...]
    start: Fraction
    """Beat, counted from the round's first."""
    beats: Fraction
    left: int
    """Column of its first beat."""
    beat_columns: int
    held: Note | None = None
    """A note begun in an earlier system and held into this one."""

    @property
    def sounding(self) -> tuple[Note, ...]:
        """Every note that sounds in this system."""
        return self.notes if self.held is None else (self.held, *self.notes)

    @property
    def end(self) -> Fraction:
        """The beat after its last."""
        return self.start + self.beats

    @property
    def right(self) -> int:
        """Column after its last beat."""
        return self.left + round(self.beats * self.beat_columns)

    def column(self, beat: Fraction | float) -> int:
        """Where a beat stands; a note's head begins one column later."""
        return self.left + round((beat - self.start) * self.beat_columns)

    def holds(self, beat: Fraction | float) -> bool:
        """Whether a moment of the round falls into this system."""
        return self.start <= beat < self.end


def metre_column(signature: int, scale: StaffScale) -> int:
    """Where the time signature stands, after clef and key signature."""
    signs = math.ceil(abs(signature) * signature_columns(signature, scale))
    return scale.clef + signs + (scale.before_metre if signs else 0)


def signature_columns(signature: int, scale: StaffScale) -> float:
    """From one sign of a key signature to the next."""
    return scale.sharp if signature > 0 else scale.flat


def systems(round_: Round, width: int, scale: StaffScale = COMPACT) -> tuple[System, ...]:
    """The round's notes in as few systems as fit into the width, broken at bars where that goes."""
    notes, signature = round_.printed, signature_of(round_)
    figures = max(len(str(number)) for number in time_signature(round_))
    left = metre_column(signature, scale) + figures * scale.figure + scale.blank
    left += _beyond_usual(round_, scale)
    room = max(1, width - left - 1)
    end = Fraction(math.ceil(round_.beats))
    beat_columns = _narrowest_beat(round_, room, scale)
    ends = _ends(notes, end, max(1, room // beat_columns), round_.beats_per_bar)
    longest = max(after - before for before, after in pairwise((Fraction(0), *ends)))
    beat_columns = _roomiest_beat(round_, room // math.ceil(longest), scale, beat_columns)
    return tuple(
        System(
            notes=tuple(note for note in notes if start <= note.beat < after),
            start=start,
            beats=after - start,
            left=left,
            beat_columns=beat_columns,
            held=next((n for n in notes if n.beat < start < n.beat + n.length), None),
        )
        for start, after in pairwise((Fraction(0), *ends))
    )


def _narrowest_beat(round_: Round, room: int, scale: StaffScale) -> int:
    """Columns of a beat with room for every sign that is written, and for a whole bar if it goes.

    The second half of a tie is written too.
    """
    closest, grid = _closest(round_)
    roomy = scale.roomy_note + _beyond_usual(round_, scale)
    least = roomy if _accidentals(round_) else scale.bare_note

    def columns(note_columns: int) -> int:
        narrowest = max(scale.narrowest_beat, math.ceil(note_columns / closest))
        return math.ceil(narrowest / grid) * grid

    for note_columns in range(roomy, least - 1, -1):
        if columns(note_columns) * round_.beats_per_bar <= room:
            return columns(note_columns)
    fitting = (columns(each) for each in range(roomy, 0, -1) if columns(each) <= room)
    return next(fitting, room)


def _accidentals(round_: Round) -> dict[int, str]:
    return accidentals(round_.printed, signature_of(round_), round_.beats_per_bar, frozenset())


def _beyond_usual(round_: Round, scale: StaffScale) -> int:
    """Columns by which the widest accidental, a double flat, is wider than others."""
    widest = max(map(len, _accidentals(round_).values()), default=1)
    return (widest - 1) * math.ceil(scale.flat)


def _roomiest_beat(round_: Round, room: int, scale: StaffScale, least: int) -> int:
    """As wide as its system allows, up to the widest note."""
    closest, grid = _closest(round_)
    roomy = max(1, min(room, max(math.floor(scale.widest_note / closest), least)))
    return max(1, roomy - roomy % grid or roomy)


def _closest(round_: Round) -> tuple[Fraction, int]:
    """The least distance in beats of two signs, or of one and the bar line after it, and into how
    many even parts a beat is cut."""
    music = written(round_)
    rests = [rest.beat for rest in music.rests if not rest.whole_bar and rest.beat < round_.beats]
    bars = range(0, math.ceil(round_.beats) + 1, round_.beats_per_bar)
    signs = {*(part.beat for part in music.parts), *rests}
    places = sorted({*signs, *map(Fraction, bars), Fraction(round_.beats)})
    closest = min([Fraction(1), *(after - place for place, after in pairwise(places))])
    grid = math.lcm(*(place.denominator for place in places))
    return closest, grid if grid <= FINEST_GRID else 1


def _ends(
    notes: tuple[Note, ...], end: Fraction, most: int, beats_per_bar: int
) -> tuple[Fraction, ...]:
    """Where systems of at most so many beats end: as few as can be, of nearly the same length.

    Between whole bars where they fit, else between even parts of a bar; no held note is cut
    where that can be, and a last note that fits behind a bar never stands alone.
    """
    parts = [beats for beats in range(beats_per_bar, 0, -1) if beats <= most]
    unit = next((beats for beats in parts if beats_per_bar % beats == 0), 1)
    places = [Fraction(beat) for beat in range(unit, math.ceil(end), unit)]
    uncut = [beat for beat in places if not _cuts(notes, beat)]
    for allowed in (uncut, places):
        fewest = _broken(allowed, end, most)
        if fewest is not None:
            tighter = (_broken(allowed, end, beats) for beats in range(1, most))
            even = (ends for ends in tighter if ends is not None and len(ends) == len(fewest))
            return _with_last_note(next(even, fewest), notes, most, beats_per_bar)
    return (end,)


def _with_last_note(
    ends: tuple[Fraction, ...], notes: tuple[Note, ...], most: int, beats_per_bar: int
) -> tuple[Fraction, ...]:
    """Half a bar moves on to a last system that would hold a single note, else a beat."""
    if len(ends) == 1 or sum(note.beat >= ends[-2] for note in notes) != 1:
        return ends
    before, last, end = (Fraction(0), *ends)[-3:]
    half = beats_per_bar // 2 if beats_per_bar % 2 == 0 else 1
    for moved in (last - half, last - 1):
        several = sum(note.beat >= moved for note in notes) > 1
        fits = end - moved <= most and moved > before
        if several and fits and not _cuts(notes, moved):
            return (*ends[:-2], moved, end)
    return ends


def _broken(places: Sequence[Fraction], end: Fraction, most: int) -> tuple[Fraction, ...] | None:
    """The farthest places that keep every system so short; None where one would be longer."""
    ends: list[Fraction] = []
    start = Fraction(0)
    while end - start > most:
        within = [place for place in places if start < place <= start + most]
        if not within:
            return None
        start = within[-1]
        ends.append(start)
    return (*ends, end)


def _cuts(notes: tuple[Note, ...], beat: Fraction) -> bool:
    return any(note.beat < beat < note.beat + note.length for note in notes)
