"""What stands on a staff and where: plain data that every painter paints from.

Places are in staff spaces: x from the left end of the staff to the right, y upwards from its
lowest line. Names of signs are those of SMuFL (Standard Music Font Layout 1.4, W3C).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from trainer.music.pitch import Pitch
from trainer.screens.drawing.canvas import Ink

BOTTOM_LINE = Pitch.parse("E4").staff_step


def spaces(step: float) -> float:
    """Staff spaces from the lowest line up to a staff step."""
    return (step - BOTTOM_LINE) / 2


class StaffSign(StrEnum):
    """A drawn sign, by its SMuFL name."""

    CLEF = "gClef"
    HEAD_BLACK = "noteheadBlack"
    HEAD_HALF = "noteheadHalf"
    HEAD_WHOLE = "noteheadWhole"
    SHARP = "accidentalSharp"
    FLAT = "accidentalFlat"
    NATURAL = "accidentalNatural"
    DOUBLE_SHARP = "accidentalDoubleSharp"
    DOUBLE_FLAT = "accidentalDoubleFlat"
    REST_WHOLE = "restWhole"
    REST_HALF = "restHalf"
    REST_QUARTER = "restQuarter"
    REST_8TH = "rest8th"
    REST_16TH = "rest16th"
    REST_32ND = "rest32nd"
    REST_64TH = "rest64th"
    DOT = "augmentationDot"
    STACCATO = "articStaccatoAbove"
    TENUTO = "articTenutoAbove"
    ACCENT = "articAccentAbove"
    BREATH = "breathMarkComma"
    HARMONIC = "stringsHarmonic"
    TRILL = "ornamentTrill"
    TURN = "ornamentTurn"
    INVERTED_TURN = "ornamentTurnInverted"
    MORDENT = "ornamentMordent"
    INVERTED_MORDENT = "ornamentShortTrill"
    FERMATA = "fermataAbove"
    CAESURA = "caesura"


HEADS = (StaffSign.HEAD_BLACK, StaffSign.HEAD_HALF, StaffSign.HEAD_WHOLE)


@dataclass(frozen=True)
class Placed:
    """A sign at its place."""

    sign: StaffSign
    x: float
    y: float
    ink: Ink = Ink.SIGN
    right_aligned: bool = False
    """Whether x is its right edge instead of its left."""


@dataclass(frozen=True)
class Figure:
    """A figure of the time signature, two spaces high about y."""

    text: str
    x: float
    y: float


@dataclass(frozen=True)
class Stem:
    """The stem of the head whose left edge is x."""

    x: float
    base: float
    """Where its head is."""
    end: float
    up: bool
    flags: int = 0
    """Of a note that no beam joins."""


@dataclass(frozen=True)
class Beam:
    """Beams that join stems: how many between each stem and the next, and half ones."""

    stems: tuple[Stem, ...]
    counts: tuple[int, ...]
    """Beams its value asks for, note by note."""

    @property
    def shared(self) -> tuple[int, ...]:
        """Beams from each stem to the next."""
        return tuple(min(pair) for pair in pairwise(self.counts))

    @property
    def hooks(self) -> tuple[int, ...]:
        """Half beams of each note: right of the first, left of the others."""
        around = (0, *self.shared, 0)
        sides = pairwise(around)
        return tuple(count - max(side) for count, side in zip(self.counts, sides, strict=True))


@dataclass(frozen=True)
class Ledger:
    """A short line through, above or below a head whose left edge is x."""

    x: float
    y: float


@dataclass(frozen=True)
class BarLine:
    """A line through the staff, right of the bar."""

    x: float
    final: bool = False


@dataclass(frozen=True)
class Bow:
    """A slur or a tie over what lies between; open where it comes from or leads on elsewhere."""

    x: float
    end: float
    y: float
    from_before: bool = False
    leads_on: bool = False


@dataclass(frozen=True)
class TieEnd:
    """One end of a tie, at the height of its head; the middle is left to the painter."""

    x: float
    y: float
    until: float
    """Where the tie ends; beyond the staff's right end where it leads on."""
    from_before: bool = False
    over_break: bool = False
    """It comes from an earlier system."""


@dataclass(frozen=True)
class Wedge:
    """Growing or falling level."""

    x: float
    end: float
    y: float
    louder: bool


@dataclass(frozen=True)
class Words:
    """Letters and words: starts, dynamics, whose turn it is."""

    text: str
    x: float
    y: float
    ink: Ink = Ink.SIGN
    dashed_to: float | None = None
    """An octave sign's dashes lead to here."""


@dataclass(frozen=True)
class Tuplet:
    """The figure in the middle of a tuplet: at its beam, else in a bracket over all its notes."""

    figure: str
    x: float
    """Left edge of its first head, and of its last."""
    end: float
    y: float
    """The ends of its stems, or the bracket."""
    up: bool
    highest: float
    """Its highest head."""
    bracket: bool = False


@dataclass(frozen=True)
class StaffItems:
    """All that stands on one system."""

    right: float
    """Right end of the staff."""
    signs: tuple[Placed, ...] = ()
    figures: tuple[Figure, ...] = ()
    ledgers: tuple[Ledger, ...] = ()
    stems: tuple[Stem, ...] = ()
    beams: tuple[Beam, ...] = ()
    bar_lines: tuple[BarLine, ...] = ()
    bows: tuple[Bow, ...] = ()
    ties: tuple[TieEnd, ...] = ()
    hairpins: tuple[Wedge, ...] = ()
    words: tuple[Words, ...] = ()
    tuplets: tuple[Tuplet, ...] = ()
