"""Pitches laid out in time, and rhythms laid over them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate

from trainer.music.layout import turning_notes
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch

GROUPINGS: dict[str, int] = {
    "quarters": 1,
    "eighths": 2,
    "triplets": 3,
    "sixteenths": 4,
    "quintuplets": 5,
    "sextuplets": 6,
    "septuplets": 7,
    "thirty-seconds": 8,
}
"""Trade word → equal notes to a beat, the beat being a quarter note."""

RHYTHMS: dict[str, tuple[int, ...]] = {
    "dotted": (3, 1),
    "reversed dotted": (1, 3),
    "long short short": (2, 1, 1),
    "short long short": (1, 2, 1),
    "short short long": (1, 1, 2),
    "long and three short": (3, 1, 1, 1),
    "three short and long": (1, 1, 1, 3),
}
"""Practice rhythms as relative lengths of successive notes."""


def laid_out(
    pitches: Sequence[Pitch], per_beat: int = 4, last_beats: Fraction = Fraction(1)
) -> tuple[Note, ...]:
    """Equal notes, `per_beat` to the beat; the last lands on a beat and is held `last_beats`.

    Where the count doesn't fill whole beats, some notes are held one unit longer, so that every
    articulation has the same notes: first the turning notes in playing order, and what is still
    missing is given to the first note. 43 sixteenths from D flat hold the top and bottom notes as
    eighths; from the lowest C they hold the first and the top note. (Common practice, no source.)

    All notes start SLURRED; `articulated` says how they are to be started. Raises ValueError
    without pitches, with `per_beat` below 1 or a last note shorter than a beat.
    """
    if not pitches:
        raise ValueError("a round needs at least one note")
    if per_beat < 1:
        raise ValueError(f"{per_beat} notes to a beat: write 1 or more")
    if last_beats < 1:
        raise ValueError(f"a last note of {last_beats} beats: write 1 or more")
    lengths = [Fraction(units, per_beat) for units in _units_to_the_beat(pitches, per_beat)]
    beats = accumulate(lengths, initial=Fraction(0))
    return tuple(
        Note(index, pitch, beat, length, Start.SLURRED)
        for index, (pitch, beat, length) in enumerate(
            zip(pitches, beats, [*lengths, last_beats], strict=False)
        )
    )


def in_rhythm(notes: Sequence[Note], lengths: Sequence[int]) -> tuple[Note, ...]:
    """The notes in a rhythm of relative lengths: (3, 1) dots every pair.

    Time is bent inside each group of as many of the shortest notes as there are lengths, so the
    groups, held notes and the last note stay where they were; an incomplete group before the last
    note stays even. Raises ValueError unless all lengths are above 0.
    """
    if not lengths or min(lengths) <= 0:
        raise ValueError("a rhythm is written as lengths above 0: 3 1 for dotted")
    unit = min(note.length for note in notes)
    first, last = notes[0].beat, notes[-1].beat
    group = unit * len(lengths)
    bent_until = first + (last - first) // group * group

    def bent(beat: Fraction) -> Fraction:
        if beat >= bent_until:
            return beat
        groups, rest = divmod(beat - first, group)
        return first + groups * group + unit * _bent_units(rest / unit, lengths)

    starts = [bent(note.beat) for note in notes]
    ends = [bent(note.beat + note.length) for note in notes]
    return tuple(
        replace(note, beat=start, length=end - start)
        for note, start, end in zip(notes, starts, ends, strict=True)
    )


def sustained(
    pitches: Sequence[Pitch], beats: Fraction, rest_beats: Fraction = Fraction(0)
) -> tuple[Note, ...]:
    """Long tones: each note held for `beats`, then `rest_beats` to breathe."""
    return tuple(
        Note(
            index,
            pitch,
            index * (beats + rest_beats),
            beats,
            Start.SLURRED,
            breath_after=index < len(pitches) - 1,
        )
        for index, pitch in enumerate(pitches)
    )


def _units_to_the_beat(pitches: Sequence[Pitch], per_beat: int) -> list[int]:
    """Units every note but the last is held, filling whole beats."""
    units = [1] * (len(pitches) - 1)
    if not units:
        return units
    missing = -len(units) % per_beat
    held = turning_notes(pitches)[:missing]
    for place in held:
        units[place] += 1
    units[0] += missing - len(held)
    return units


def _bent_units(units: Fraction, lengths: Sequence[int]) -> Fraction:
    """A place within an even group, in units, moved to where the rhythm puts it."""
    slot = int(units)
    moved = sum(lengths[:slot]) + (units - slot) * lengths[slot]
    return moved * len(lengths) / Fraction(sum(lengths))
