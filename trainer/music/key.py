"""Keys: a tonic and a mode, with the signature that goes with them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from trainer.music.pitch import LETTERS, Interval, Pitch

_FIFTHS_OF_NATURALS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
_MINOR_AGAINST_MAJOR = -3
"""Fifths from a major key's signature to the minor one's on the same tonic."""
SIGNATURE_LIMIT = 7
"""More sharps or flats than this are never printed."""

_CYCLE_SEMITONES = {"circle of fifths": 7, "circle of fourths": 5, "chromatic": 1}
CYCLES = tuple(_CYCLE_SEMITONES)
"""Orders in which a teacher leads a student through all twelve keys."""


class Mode(StrEnum):
    """The two modes that have a signature of their own."""

    MAJOR = "major"
    MINOR = "minor"

    @property
    def other(self) -> Mode:
        """Minor for major, major for minor."""
        return Mode.MINOR if self is Mode.MAJOR else Mode.MAJOR


_COMMON_TONICS = {
    Mode.MAJOR: ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"),
    Mode.MINOR: ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"),
}
"""The twelve keys as commonly written, by pitch class of the tonic."""


@dataclass(frozen=True)
class Key:
    """A key such as E flat major."""

    tonic: str
    """Note name without octave: 'Eb'."""
    mode: Mode

    def __post_init__(self) -> None:
        tonic_pitch(self.tonic)
        if abs(self.signature) > SIGNATURE_LIMIT:
            raise ValueError(f"{self.name} would need more than seven sharps or flats")

    @property
    def signature(self) -> int:
        """Sharps (positive) or flats (negative) at the clef: -3 for E flat major."""
        tonic = tonic_pitch(self.tonic)
        fifths = _FIFTHS_OF_NATURALS[tonic.letter] + 7 * tonic.alter
        return fifths + (_MINOR_AGAINST_MAJOR if self.mode is Mode.MINOR else 0)

    @property
    def relative(self) -> Key:
        """The key of the other mode with the same signature: C minor for E flat major."""
        third = Interval(2, 3) if self.mode is Mode.MINOR else Interval(-2, -3)
        return Key(_moved(self.tonic, third), self.mode.other)

    @property
    def parallel(self) -> Key | None:
        """The key of the other mode on the same tonic; None where it has no signature."""
        return key_on(self.tonic, self.mode.other)

    @property
    def name(self) -> str:
        """In words: 'E flat major'."""
        accidental = {"b": " flat", "#": " sharp"}.get(self.tonic[1:], "")
        return f"{self.tonic[0]}{accidental} {self.mode}"

    def __str__(self) -> str:
        return self.name


def tonic_pitch(name: str) -> Pitch:
    """A tonic in the octave of middle C; ValueError where the name is no note name."""
    try:
        return Pitch.parse(f"{name}4")
    except ValueError:
        raise ValueError(f"'{name}' is not a tonic: write a letter and # or b: Eb") from None


def major_keys() -> tuple[Key, ...]:
    """The fifteen major keys by signature, from C flat (seven flats) to C sharp."""
    return _keys(Mode.MAJOR)


def minor_keys() -> tuple[Key, ...]:
    """The fifteen minor keys by signature, from A flat (seven flats) to A sharp."""
    return _keys(Mode.MINOR)


def cycle(name: str, mode: Mode = Mode.MAJOR, tonic: str = "C") -> tuple[Key, ...]:
    """All twelve keys in one of the CYCLES, starting on a tonic; ValueError for other names.

    The first key keeps the spelling asked for; the others are written as
    is common (F sharp rather than G flat major, E flat rather than D sharp minor).
    """
    if name not in _CYCLE_SEMITONES:
        raise ValueError(f"'{name}' is no order of keys: write {', '.join(CYCLES)}")
    start = Key(tonic, mode)
    first = tonic_pitch(tonic).midi
    others = ((first + _CYCLE_SEMITONES[name] * turn) % 12 for turn in range(1, 12))
    return (start, *(Key(_COMMON_TONICS[mode][tonic_class], mode) for tonic_class in others))


def _keys(mode: Mode) -> tuple[Key, ...]:
    tonics = [f"{letter}{sign}" for letter in LETTERS for sign in ("b", "", "#")]
    keys = [key for tonic in tonics if (key := key_on(tonic, mode)) is not None]
    return tuple(sorted(keys, key=lambda key: key.signature))


def _moved(name: str, interval: Interval) -> str:
    return tonic_pitch(name).transposed(interval).name


def key_on(tonic: str, mode: Mode) -> Key | None:
    """The key on a tonic; None where it would need more than seven sharps or flats."""
    try:
        return Key(tonic, mode)
    except ValueError:
        return None


NO_SIGNS = Key("C", Mode.MAJOR)
"""What is written where a passage goes back to no key at all."""
