"""Rounds of bare notes, for drawing."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from trainer.music.key import Key, Mode
from trainer.music.note import Articulation, Note
from trainer.routine.round import Aims, Round, RoundKind

MAJORS = ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"]
"""Seven flats to seven sharps."""


def round_of(
    notes: Sequence[Note],
    signature: int = 0,
    beats_per_bar: int = 4,
    beat_quarters: Fraction = Fraction(1),
) -> Round:
    """The notes as a round: sharps, or flats below nought; a beat of so many quarters."""
    return Round(
        exercise_id="hill",
        title="hill",
        kind=RoundKind.TECHNIQUE,
        number=1,
        key=Key(MAJORS[signature + 7], Mode.MAJOR),
        articulation=Articulation.SINGLE,
        tempo_bpm=72,
        notes=tuple(notes),
        beats_per_bar=beats_per_bar,
        aims=Aims(),
        partner=None,
        beat_quarters=beat_quarters,
    )
