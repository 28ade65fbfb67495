"""The expected note, and the ways a note is started."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
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
    """How loud a note is asked for, softest first; then strokes that hold for their note alone."""

    PPP = "ppp"
    PP = "pp"
    P = "p"
    MP = "mp"
    MF = "mf"
    F = "f"
    FF = "ff"
    FFF = "fff"
    FP = "fp"
    """Loud, and soft at once."""
    SF = "sf"
    SFZ = "sfz"
    FZ = "fz"
    RFZ = "rfz"
    SFP = "sfp"


class Hairpin(StrEnum):
    """Growing or falling level, from its note on to the next dynamic or hairpin."""

    LOUDER = "louder"
    SOFTER = "softer"


class Mark(StrEnum):
    """A sign over one note."""

    STACCATO = "staccato"
    TENUTO = "tenuto"
    ACCENT = "accent"


class Ornament(StrEnum):
    """A sign over a note that is played as several."""

    TRILL = "trill"
    """The note and the one above in turns, as fast as it sounds well."""
    TURN = "turn"
    """The note above, the note, the one below, the note."""
    INVERTED_TURN = "inverted-turn"
    MORDENT = "mordent"
    """The note, the one below and the note again."""
    INVERTED_MORDENT = "inverted-mordent"
    """The note, the one above and the note again."""


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
    graces: tuple[Pitch, ...] = ()
    """Grace notes before it: quick, and free to come before the beat or on it."""
    ornament: Ornament | None = None
    neighbours: tuple[Pitch, ...] = ()
    """Of an ornament: the note above and the note below."""
    fermata: bool = False
    """Held as long as the player likes; the beat waits."""
    stop_after: bool = False
    """A caesura: the music stops for a moment after this note."""
    in_cadenza: bool = False
    """Out of time altogether."""
    tempo_share: float = 1.0
    """The tempo from this note on against the round's, where it changes inside."""

    def at(self, place: Callable[[Pitch], Pitch]) -> Note:
        """The note with its grace notes and neighbours at other pitches: as they sound."""
        return replace(
            self,
            pitch=place(self.pitch),
            graces=tuple(map(place, self.graces)),
            neighbours=tuple(map(place, self.neighbours)),
        )

    @property
    def ornamented(self) -> bool:
        """It is played as several."""
        return bool(self.graces) or self.ornament is not None

    @property
    def free(self) -> bool:
        """Its place in time is the player's own, and never judged."""
        return self.ornamented or self.in_cadenza

    @property
    def time_stands_after(self) -> bool:
        """What follows begins when the player goes on, not on a beat."""
        return self.fermata or self.stop_after
