"""How the first notes of each round begin, drawn in letters under their names."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.music.note import Mark, Note, Start
from trainer.routine.round import Round
from trainer.score.asked import SYLLABLES

NARROWEST = 4
"""Columns to a note with its blank: 'F#5 '."""
MOST_NOTES = 12
"""Enough for three of the longest common groups."""
_MARKS = {Mark.STACCATO: ".", Mark.TENUTO: "-", Mark.ACCENT: ">"}
SLUR_GOES_ON, SLUR_ENDS = "─", "┘"


def shown_notes(round_: Round) -> Sequence[Note]:
    """The first bars, as far as they fit on a line."""
    return round_.notes[:MOST_NOTES]


def names_row(round_: Round) -> str:
    """The names of the first notes; '...' where more come."""
    width = _width(round_)
    names = "".join(str(note.pitch).ljust(width) for note in shown_notes(round_))
    return f"{names}..." if len(round_.notes) > MOST_NOTES else names.rstrip()


def strokes_row(round_: Round) -> str:
    """Under the names: the syllable each note begins with, and lines for slurs."""
    notes = shown_notes(round_)
    cells = []
    for place, note in enumerate(notes):
        goes_on = place + 1 < len(notes) and notes[place + 1].start is Start.SLURRED
        filling = SLUR_GOES_ON if goes_on else " "
        cells.append(_sign(note, goes_on=goes_on).ljust(_width(round_), filling))
    return "".join(cells).rstrip()


def _width(round_: Round) -> int:
    """Columns to a note."""
    return max(NARROWEST, *(1 + len(str(note.pitch)) for note in shown_notes(round_)))


def _sign(note: Note, *, goes_on: bool) -> str:
    if note.start is Start.SLURRED:
        return SLUR_GOES_ON if goes_on else SLUR_ENDS
    mark = _MARKS.get(note.mark, "") if note.mark is not None else ""
    return SYLLABLES[note.start] + mark
