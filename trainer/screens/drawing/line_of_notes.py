"""A few notes on a staff, for a screen that shows no round."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from trainer.music.note import Articulation, Note, Start
from trainer.music.pitch import Pitch
from trainer.routine.round import Aims, Round, RoundKind
from trainer.screens.drawing.canvas import Row
from trainer.screens.drawing.preview_pages import preview_pages


def notes_rows(pitches: Sequence[Pitch], width: int, height: int) -> tuple[Row, ...]:
    """Written pitches one after another, whole notes in bars of their own."""
    notes = tuple(
        Note(place, pitch, Fraction(4 * place), Fraction(4), Start.SLURRED)
        for place, pitch in enumerate(pitches)
    )
    round_ = Round(
        exercise_id="",
        title="",
        kind=RoundKind.SETTLING,
        number=1,
        key=None,
        articulation=Articulation.SLURRED,
        tempo_bpm=60.0,
        notes=notes,
        beats_per_bar=4,
        aims=Aims(),
        partner=None,
    )
    return preview_pages(round_, width, height)[0]
