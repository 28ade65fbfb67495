"""How large music is drawn: columns and rows of cells for one staff space."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True)
class StaffScale:
    """One size of notation, and the room its signs need in columns."""

    columns_a_space: int
    rows_a_space: int
    clef: int
    """Columns of the clef and the blank after it."""
    sharp: float
    """Columns from one sharp of the key signature to the next."""
    flat: float
    figure: int
    """Columns of one figure of the time signature."""
    blank: int
    """After signature and metre, so that the first note's own accidental never joins them."""
    roomy_note: int
    """From one note to the next: an accidental, the head, a blank."""
    bare_note: int
    """The same where no note of the round has an accidental."""
    widest_note: int
    narrowest_beat: int
    """So that a held note has room for its pitch trail."""
    band: int
    """Columns of the band through the note due."""
    before_metre: int = 0
    """Blank columns between a key signature and the time signature."""
    to_bar_line: int = 0
    """Columns that the last note of a bar needs to the next bar: its head, a blank, the bar line; 0
    of cells, where the blank of any note is enough."""
    flag: int = 0
    """Columns by which it needs more where it has a flag."""
    accidental: int = 0
    """Columns from a bar line to a note with an accidental, beyond what other notes have."""
    marker_rows: int = 0
    """Rows above the staff for the mark over the note due, where it can't lie on the picture."""


COMPACT = StaffScale(
    columns_a_space=2,
    rows_a_space=1,
    clef=6,
    sharp=2.0,
    flat=1.5,
    figure=1,
    blank=1,
    roomy_note=4,
    bare_note=3,
    widest_note=8,
    narrowest_beat=8,
    band=4,
)
"""A row a line; a space is half of the row above and half of the row below."""
CLOSE = replace(COMPACT, roomy_note=3, narrowest_beat=4)
"""The same, as close as notes without accidentals can stand, to see much at once."""
CLOSE_WITH_SIGNS = replace(COMPACT, narrowest_beat=4)
STAND = StaffScale(
    columns_a_space=4,
    rows_a_space=2,
    clef=12,
    sharp=3.5,
    flat=3.0,
    figure=6,
    blank=3,
    roomy_note=9,
    bare_note=6,
    widest_note=18,
    narrowest_beat=12,
    band=8,
    before_metre=1,
)
"""A row a line and a row a space, for a stand a metre and a half away."""
PIXELS = replace(
    COMPACT,
    clef=7,
    flat=2.0,
    figure=4,
    blank=2,
    roomy_note=5,
    before_metre=1,
    to_bar_line=5,
    flag=2,
    accidental=1,
    marker_rows=1,
)
PIXELS_ON_STAND = replace(
    STAND,
    clef=14,
    figure=7,
    blank=5,
    roomy_note=10,
    before_metre=2,
    to_bar_line=8,
    flag=4,
    accidental=4,
    marker_rows=1,
)
"""The same in pixels: real figures, flags and accidentals are wider, and the marker has its own
row."""
