"""Key signatures, and the accidentals a signature does not give.

Order and places of the signature's signs in the treble clef are those of common notation: sharps
F5 C5 G5 D5 A4 E5 B4, flats B4 E5 A4 D5 G4 C5 F4.
"""

from __future__ import annotations

from collections.abc import Iterable

from trainer.music.bars import Bars, BarSpan
from trainer.music.note import Note
from trainer.music.pitch import Pitch

SHARP, FLAT, NATURAL, DOUBLE_SHARP = "♯", "♭", "♮", "x"
SIGNS = {-2: FLAT * 2, -1: FLAT, 0: NATURAL, 1: SHARP, 2: DOUBLE_SHARP}
"""The sign of each alteration in semitones."""

_SHARP_PLACES = tuple(Pitch.parse(name) for name in ["F5", "C5", "G5", "D5", "A4", "E5", "B4"])
_FLAT_PLACES = tuple(Pitch.parse(name) for name in ["B4", "E5", "A4", "D5", "G4", "C5", "F4"])


def signature_places(signature: int) -> tuple[Pitch, ...]:
    """Where the signs of a signature stand, from left to right."""
    places = _SHARP_PLACES if signature > 0 else _FLAT_PLACES
    return places[: abs(signature)]


def signature_alters(signature: int) -> dict[str, int]:
    """What the signature does to each letter it names."""
    return {place.letter: 1 if signature > 0 else -1 for place in signature_places(signature)}


def accidentals(notes: Iterable[Note], bars: Bars, lowered: frozenset[int]) -> dict[int, str]:
    """The sign before each note that needs one, by the note's index.

    A sign holds for its bar and its octave. `lowered` are the indices of the notes under an
    octave sign; a note is marked whenever either its sounding or its drawn place could mislead.
    """
    signs: dict[int, str] = {}
    sounding: dict[int, int] = {}
    drawn: dict[int, int] = {}
    bar: BarSpan | None = None
    given: dict[str, int] = {}
    for note in notes:
        pitch = note.pitch
        if bar is None or note.beat >= bar.ends:
            bar = bars.at(note.beat)
            given = signature_alters(bar.key.signature if bar.key is not None else 0)
            sounding, drawn = {}, {}
        place = pitch.staff_step - (7 if note.index in lowered else 0)
        usual = given.get(pitch.letter, 0)
        in_force = sounding.get(pitch.staff_step, usual), drawn.get(place, usual)
        if in_force != (pitch.alter, pitch.alter):
            signs[note.index] = SIGNS[pitch.alter]
        sounding[pitch.staff_step] = drawn[place] = pitch.alter
    return signs
