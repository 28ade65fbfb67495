"""Keys: a tonic and a mode, with the signature that goes with them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from trainer.music.pitch import Pitch

_FIFTHS_OF_NATURALS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
_MINOR_AGAINST_MAJOR = -3
SIGNATURE_LIMIT = 7


class Mode(StrEnum):
    """The two modes that have a signature of their own."""

    MAJOR = "major"
    MINOR = "minor"


@dataclass(frozen=True)
class Key:
    """A key such as E flat major."""

    tonic: str
    """Note name without octave: 'Eb'."""
    mode: Mode

    def __post_init__(self) -> None:
        Pitch.parse(f"{self.tonic}4")
        if abs(self.signature) > SIGNATURE_LIMIT:
            raise ValueError(f"{self.name} would need more than seven sharps or flats")

    @property
    def signature(self) -> int:
        """Sharps (positive) or flats (negative) at the clef: -3 for E flat major."""
        tonic = Pitch.parse(f"{self.tonic}4")
        fifths = _FIFTHS_OF_NATURALS[tonic.letter] + 7 * tonic.alter
        return fifths + (_MINOR_AGAINST_MAJOR if self.mode is Mode.MINOR else 0)

    @property
    def name(self) -> str:
        """In words: 'E flat major'."""
        accidental = {"b": " flat", "#": " sharp"}.get(self.tonic[1:], "")
        return f"{self.tonic[0]}{accidental} {self.mode}"

    def __str__(self) -> str:
        return self.name
