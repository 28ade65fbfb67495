"""The expected note, and the ways a note is started."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from trainer.music.pitch import Pitch


class Start(StrEnum):
    """How a note begins."""

    SLURRED = "slurred"
    """Fingers only; the air goes on."""
    LEGATO_TONGUE = "legato tongue"
    """A soft stroke (D, L) on air that goes on."""
    TONGUED = "tongued"
    """A front stroke (T)."""
    BACK_TONGUED = "back-tongued"
    """A back stroke (K)."""
    BREATH = "breath"
    """A puff of air without the tongue; the tone sounds."""
    SILENT_AIR = "silent air"
    """A puff of air through the flute, no tone."""


class Articulation(StrEnum):
    """What the teacher asks for in a round, where it is the same throughout."""

    SLURRED = "slurred"
    LEGATO_TONGUE = "legato tongue"
    SINGLE = "single"
    STACCATO = "staccato"
    TENUTO = "tenuto"
    ACCENTED = "accented"
    AIR_ONLY = "air-only"
    AIR_ONLY_SILENT = "air-only silent"
    DOUBLE = "double"
    REVERSE_DOUBLE = "reverse double"
    TRIPLE = "triple"
    TRIPLE_TTK = "triple T T K"


ARTICULATION_STARTS: dict[Articulation, tuple[Start, ...]] = {
    Articulation.SLURRED: (Start.SLURRED,),
    Articulation.LEGATO_TONGUE: (Start.LEGATO_TONGUE,),
    Articulation.SINGLE: (Start.TONGUED,),
    Articulation.STACCATO: (Start.TONGUED,),
    Articulation.TENUTO: (Start.TONGUED,),
    Articulation.ACCENTED: (Start.TONGUED,),
    Articulation.AIR_ONLY: (Start.BREATH,),
    Articulation.AIR_ONLY_SILENT: (Start.SILENT_AIR,),
    Articulation.DOUBLE: (Start.TONGUED, Start.BACK_TONGUED),
    Articulation.REVERSE_DOUBLE: (Start.BACK_TONGUED, Start.TONGUED),
    Articulation.TRIPLE: (Start.TONGUED, Start.BACK_TONGUED, Start.TONGUED),
    Articulation.TRIPLE_TTK: (Start.TONGUED, Start.TONGUED, Start.BACK_TONGUED),
}
"""The starts of successive notes, repeated through the round. T K T and T T K are the two triple
tonguings (fluteline.com, 'Double_tonguing')."""


class Dynamic(StrEnum):
    """How loud a note is asked for, softest first."""

    PP = "pp"
    P = "p"
    MP = "mp"
    MF = "mf"
    F = "f"
    FF = "ff"


class Hairpin(StrEnum):
    """Growing or falling level, from its note on to the next dynamic or hairpin."""

    LOUDER = "louder"
    SOFTER = "softer"


class Mark(StrEnum):
    """A sign over one note."""

    STACCATO = "staccato"
    TENUTO = "tenuto"
    ACCENT = "accent"


@dataclass(frozen=True)
class Note:
    """One expected note of a round."""

    index: int
    """Place in the round, from 0."""
    pitch: Pitch
    beat: Fraction
    """Beats from the round's first beat to the note's start."""
    length: Fraction
    """Beats the note lasts."""
    start: Start
    breath_after: bool = False
    """A breath may be taken between this note and the next."""
    harmonic_of: Pitch | None = None
    """Not None: to be played as a harmonic, on the fingering of this lower note."""
    dynamic: Dynamic | None = None
    """Not None: how loud, from this note on."""
    hairpin: Hairpin | None = None
    mark: Mark | None = None
