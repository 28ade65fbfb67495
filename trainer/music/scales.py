"""Scales and arpeggios as spelled pitches, over any range.

Every kind is a table of spelled intervals above its tonic (or root), so that G flat major has its
C flat and G sharp harmonic minor its F double sharp. Only the chromatic and whole-tone scales,
which belong to no key, take their spelling from the key on their tonic.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from trainer.music.key import Key, Mode, key_on, tonic_pitch
from trainer.music.pitch import LETTER_SEMITONES, Interval, Pitch


class ScaleKind(StrEnum):
    """The scales a teacher asks for."""

    MAJOR = "major"
    NATURAL_MINOR = "natural minor"
    HARMONIC_MINOR = "harmonic minor"
    MELODIC_MINOR = "melodic minor"
    CHROMATIC = "chromatic"
    WHOLE_TONE = "whole-tone"
    DORIAN = "dorian"
    PHRYGIAN = "phrygian"
    LYDIAN = "lydian"
    MIXOLYDIAN = "mixolydian"
    LOCRIAN = "locrian"
    PENTATONIC = "pentatonic"
    MINOR_PENTATONIC = "minor pentatonic"
    BLUES = "blues"
    OCTATONIC = "octatonic"
    """Whole step first; the other begins with the half step."""
    OCTATONIC_HALF_FIRST = "octatonic, half step first"


class ArpeggioKind(StrEnum):
    """The broken chords a teacher asks for; each is named by its root."""

    MAJOR = "major"
    MINOR = "minor"
    AUGMENTED = "augmented"
    DIMINISHED = "diminished"
    DOMINANT_SEVENTH = "dominant seventh"
    DIMINISHED_SEVENTH = "diminished seventh"
    HALF_DIMINISHED = "half-diminished"
    MAJOR_SEVENTH = "major seventh"
    MINOR_SEVENTH = "minor seventh"
    DOMINANT_NINTH = "dominant ninth"
    """A ninth chord's notes in order of pitch, the ninth next to the root."""
    MAJOR_NINTH = "major ninth"
    MINOR_NINTH = "minor ninth"
    ADDED_SIXTH = "added sixth"
    MINOR_ADDED_SIXTH = "minor added sixth"


Kind = ScaleKind | ArpeggioKind

_UNISON = Interval(0, 0)
_MAJOR_2, _MINOR_3, _MAJOR_3 = Interval(1, 2), Interval(2, 3), Interval(2, 4)
_FOURTH, _DIMINISHED_5, _FIFTH, _AUGMENTED_5 = (
    Interval(3, 5),
    Interval(4, 6),
    Interval(4, 7),
    Interval(4, 8),
)
_MINOR_2, _AUGMENTED_4 = Interval(1, 1), Interval(3, 6)
_MINOR_6, _MAJOR_6 = Interval(5, 8), Interval(5, 9)
_DIMINISHED_7, _MINOR_7, _MAJOR_7 = Interval(6, 9), Interval(6, 10), Interval(6, 11)
_MINOR_TO_THE_FIFTH = (_UNISON, _MAJOR_2, _MINOR_3, _FOURTH, _FIFTH)

SCALE_DEGREES: dict[ScaleKind, tuple[Interval, ...]] = {
    ScaleKind.MAJOR: (_UNISON, _MAJOR_2, _MAJOR_3, _FOURTH, _FIFTH, _MAJOR_6, _MAJOR_7),
    ScaleKind.NATURAL_MINOR: (*_MINOR_TO_THE_FIFTH, _MINOR_6, _MINOR_7),
    ScaleKind.HARMONIC_MINOR: (*_MINOR_TO_THE_FIFTH, _MINOR_6, _MAJOR_7),
    ScaleKind.MELODIC_MINOR: (*_MINOR_TO_THE_FIFTH, _MAJOR_6, _MAJOR_7),
    ScaleKind.DORIAN: (*_MINOR_TO_THE_FIFTH, _MAJOR_6, _MINOR_7),
    ScaleKind.PHRYGIAN: (_UNISON, _MINOR_2, _MINOR_3, _FOURTH, _FIFTH, _MINOR_6, _MINOR_7),
    ScaleKind.LYDIAN: (_UNISON, _MAJOR_2, _MAJOR_3, _AUGMENTED_4, _FIFTH, _MAJOR_6, _MAJOR_7),
    ScaleKind.MIXOLYDIAN: (_UNISON, _MAJOR_2, _MAJOR_3, _FOURTH, _FIFTH, _MAJOR_6, _MINOR_7),
    ScaleKind.LOCRIAN: (_UNISON, _MINOR_2, _MINOR_3, _FOURTH, _DIMINISHED_5, _MINOR_6, _MINOR_7),
    ScaleKind.PENTATONIC: (_UNISON, _MAJOR_2, _MAJOR_3, _FIFTH, _MAJOR_6),
    ScaleKind.MINOR_PENTATONIC: (_UNISON, _MINOR_3, _FOURTH, _FIFTH, _MINOR_7),
    ScaleKind.BLUES: (_UNISON, _MINOR_3, _FOURTH, _DIMINISHED_5, _FIFTH, _MINOR_7),
    ScaleKind.OCTATONIC: (
        _UNISON, _MAJOR_2, _MINOR_3, _FOURTH, _DIMINISHED_5, _MINOR_6, _MAJOR_6, _MAJOR_7,
    ),
    ScaleKind.OCTATONIC_HALF_FIRST: (
        _UNISON, _MINOR_2, _MINOR_3, _MAJOR_3, _AUGMENTED_4, _FIFTH, _MAJOR_6, _MINOR_7,
    ),
}  # fmt: skip
"""Degrees going up; melodic minor comes down as natural minor."""

ARPEGGIO_DEGREES: dict[ArpeggioKind, tuple[Interval, ...]] = {
    ArpeggioKind.MAJOR: (_UNISON, _MAJOR_3, _FIFTH),
    ArpeggioKind.MINOR: (_UNISON, _MINOR_3, _FIFTH),
    ArpeggioKind.AUGMENTED: (_UNISON, _MAJOR_3, _AUGMENTED_5),
    ArpeggioKind.DIMINISHED: (_UNISON, _MINOR_3, _DIMINISHED_5),
    ArpeggioKind.DOMINANT_SEVENTH: (_UNISON, _MAJOR_3, _FIFTH, _MINOR_7),
    ArpeggioKind.DIMINISHED_SEVENTH: (_UNISON, _MINOR_3, _DIMINISHED_5, _DIMINISHED_7),
    ArpeggioKind.HALF_DIMINISHED: (_UNISON, _MINOR_3, _DIMINISHED_5, _MINOR_7),
    ArpeggioKind.MAJOR_SEVENTH: (_UNISON, _MAJOR_3, _FIFTH, _MAJOR_7),
    ArpeggioKind.MINOR_SEVENTH: (_UNISON, _MINOR_3, _FIFTH, _MINOR_7),
    ArpeggioKind.DOMINANT_NINTH: (_UNISON, _MAJOR_2, _MAJOR_3, _FIFTH, _MINOR_7),
    ArpeggioKind.MAJOR_NINTH: (_UNISON, _MAJOR_2, _MAJOR_3, _FIFTH, _MAJOR_7),
    ArpeggioKind.MINOR_NINTH: (_UNISON, _MAJOR_2, _MINOR_3, _FIFTH, _MINOR_7),
    ArpeggioKind.ADDED_SIXTH: (_UNISON, _MAJOR_3, _FIFTH, _MAJOR_6),
    ArpeggioKind.MINOR_ADDED_SIXTH: (_UNISON, _MINOR_3, _FIFTH, _MAJOR_6),
}

_KIND_MODES: dict[Kind, Mode] = {
    ScaleKind.MAJOR: Mode.MAJOR,
    ScaleKind.NATURAL_MINOR: Mode.MINOR,
    ScaleKind.HARMONIC_MINOR: Mode.MINOR,
    ScaleKind.MELODIC_MINOR: Mode.MINOR,
    ArpeggioKind.MAJOR: Mode.MAJOR,
    ArpeggioKind.MINOR: Mode.MINOR,
    ScaleKind.DORIAN: Mode.MINOR,
    ScaleKind.PHRYGIAN: Mode.MINOR,
    ScaleKind.LYDIAN: Mode.MAJOR,
    ScaleKind.MIXOLYDIAN: Mode.MAJOR,
    ScaleKind.LOCRIAN: Mode.MINOR,
    ScaleKind.PENTATONIC: Mode.MAJOR,
    ScaleKind.MINOR_PENTATONIC: Mode.MINOR,
    ScaleKind.BLUES: Mode.MINOR,
    ArpeggioKind.MAJOR_SEVENTH: Mode.MAJOR,
    ArpeggioKind.MINOR_SEVENTH: Mode.MINOR,
    ArpeggioKind.MAJOR_NINTH: Mode.MAJOR,
    ArpeggioKind.MINOR_NINTH: Mode.MINOR,
    ArpeggioKind.ADDED_SIXTH: Mode.MAJOR,
    ArpeggioKind.MINOR_ADDED_SIXTH: Mode.MINOR,
}
"""Modes stand in the signature of their tonic's major or minor, whichever third they have."""

_SYMMETRIC_STEP = {ScaleKind.CHROMATIC: 1, ScaleKind.WHOLE_TONE: 2}
"""Semitones from each degree to the next."""
_NATURALS = {semitones: letter for letter, semitones in LETTER_SEMITONES.items()}
_SHARPS = {1: "C#", 3: "D#", 6: "F#", 8: "G#", 10: "A#"}
_FLATS = {1: "Db", 3: "Eb", 6: "Gb", 8: "Ab", 10: "Bb"}


@dataclass(frozen=True)
class ScaleRun:
    """The notes of a scale or arpeggio that lie within a range."""

    tonic: str
    """Name of the tonic or root, without octave: 'Eb'."""
    kind: Kind
    ascending: tuple[Pitch, ...]
    """As played going up, lowest first."""
    descending: tuple[Pitch, ...]
    """As played coming down, highest first."""

    @property
    def degrees(self) -> int:
        """Notes in an octave."""
        return len(_names_going_up(self.tonic, self.kind))


def scale_within(tonic: str, kind: Kind, lowest: Pitch, highest: Pitch) -> ScaleRun:
    """The notes whose sound lies from lowest to highest, spelled for their key.

    Raises ValueError in a plain sentence where the tonic is no note name, the spelling would need
    a triple accidental, or nothing of the scale lies within the range.
    """
    up = _pitches_named(_names_going_up(tonic, kind), lowest, highest)
    down = _pitches_named(_names_coming_down(tonic, kind), lowest, highest)
    if not up or not down:
        raise ValueError(f"no note of {tonic} {kind} lies from {lowest} to {highest}")
    return ScaleRun(tonic_pitch(tonic).name, kind, up, down[::-1])


def key_of(tonic: str, kind: Kind) -> Key | None:
    """The key whose signature suits this scale or arpeggio; None where no signature does."""
    if kind in (ArpeggioKind.DOMINANT_SEVENTH, ArpeggioKind.DOMINANT_NINTH):
        return key_on(tonic_pitch(tonic).transposed(_FOURTH).name, Mode.MAJOR)
    if kind is ArpeggioKind.DIMINISHED_SEVENTH:
        return key_on(tonic_pitch(tonic).transposed(Interval(1, 1)).name, Mode.MINOR)
    mode = _KIND_MODES.get(kind)
    return None if mode is None else key_on(tonic, mode)


def root_in_key(key: Key, kind: ArpeggioKind) -> str:
    """Where an arpeggio 'in a key' starts.

    A dominant seventh or ninth stands on the fifth degree, a diminished or diminished seventh on
    the leading note, a half-diminished seventh where the key has it: on the leading note in major,
    on the second degree in minor. The others stand on the tonic.
    """
    interval = {
        ArpeggioKind.DOMINANT_SEVENTH: _FIFTH,
        ArpeggioKind.DOMINANT_NINTH: _FIFTH,
        ArpeggioKind.HALF_DIMINISHED: _MAJOR_7 if key.mode is Mode.MAJOR else _MAJOR_2,
        ArpeggioKind.DIMINISHED: _MAJOR_7,
        ArpeggioKind.DIMINISHED_SEVENTH: _MAJOR_7,
    }.get(kind, _UNISON)
    return tonic_pitch(key.tonic).transposed(interval).name


def _names_going_up(tonic: str, kind: Kind) -> dict[int, str]:
    """Pitch class → note name, for the way up."""
    if isinstance(kind, ArpeggioKind):
        return _spelled_degrees(tonic, kind, ARPEGGIO_DEGREES[kind])
    if kind in _SYMMETRIC_STEP:
        return _symmetric_names(tonic, kind, _SHARPS)
    return _spelled_degrees(tonic, kind, SCALE_DEGREES[kind])


def _names_coming_down(tonic: str, kind: Kind) -> dict[int, str]:
    """Pitch class → note name, for the way down."""
    if kind is ScaleKind.MELODIC_MINOR:
        return _spelled_degrees(tonic, kind, SCALE_DEGREES[ScaleKind.NATURAL_MINOR])
    if kind is ScaleKind.CHROMATIC:
        return _symmetric_names(tonic, kind, _FLATS)
    return _names_going_up(tonic, kind)


def _spelled_degrees(tonic: str, kind: Kind, degrees: tuple[Interval, ...]) -> dict[int, str]:
    root = tonic_pitch(tonic)
    try:
        pitches = [root.transposed(degree) for degree in degrees]
    except ValueError:
        raise ValueError(
            f"{tonic} {kind} needs a triple accidental: write it on another tonic of that sound"
        ) from None
    return {pitch.midi % 12: pitch.name for pitch in pitches}


def _symmetric_names(tonic: str, kind: Kind, black_keys: dict[int, str]) -> dict[int, str]:
    """Names for a scale in equal steps: as in the key on its tonic, else as plain as can be.

    A whole-tone scale is spelled alike both ways, flat where the key on its tonic has flats.
    """
    root = tonic_pitch(tonic)
    key = key_on(tonic, Mode.MAJOR) or key_on(tonic, Mode.MINOR)
    if key is None:
        raise ValueError(
            f"a {kind} scale on {tonic} has no key to be spelled in: "
            "write it on another tonic of that sound"
        )
    if kind is ScaleKind.WHOLE_TONE and key.signature < 0:
        black_keys = _FLATS
    degrees = SCALE_DEGREES[ScaleKind.MAJOR if key.mode is Mode.MAJOR else ScaleKind.NATURAL_MINOR]
    names = _NATURALS | black_keys | _spelled_degrees(tonic, kind, degrees)
    step = _SYMMETRIC_STEP[ScaleKind(kind)]
    return {
        pitch_class: name
        for pitch_class, name in names.items()
        if (pitch_class - root.midi) % step == 0
    }


def _pitches_named(names: dict[int, str], lowest: Pitch, highest: Pitch) -> tuple[Pitch, ...]:
    """Every sounding note of the range that has a name, lowest first."""
    return tuple(
        Pitch.named(names[midi % 12], midi)
        for midi in range(lowest.midi, highest.midi + 1)
        if midi % 12 in names
    )
