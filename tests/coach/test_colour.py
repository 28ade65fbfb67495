"""Tone is compared with the same player's earlier rounds, like with like."""

from __future__ import annotations

from dataclasses import replace

from tests.coach.test_ladder import marks_at
from trainer.coach.marks import Marks
from trainer.coach.observations.colour import in_colour
from trainer.ear.heard import Tone


def toned(noise_db: float, *, held: bool = False) -> Marks:
    """A round of sixteenths, or of notes a beat long, with so much hiss."""
    marks = marks_at(60, 5)
    notes = (
        replace(note, tone=Tone(-6.0, noise_db, 2.0), group_place=0 if held else note.group_place)
        for note in marks.notes
    )
    return replace(marks, notes=tuple(notes))


def test_held_notes_are_not_called_airier_than_quick_ones() -> None:
    quick = toned(-30)
    assert [seen.detail for seen in in_colour(toned(-12), [quick])] == ["airier"]
    assert not list(in_colour(toned(-12, held=True), [quick]))
    assert list(in_colour(toned(-12, held=True), [quick, toned(-30, held=True)]))
