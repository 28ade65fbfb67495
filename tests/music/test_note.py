"""How notes are started in each articulation (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from trainer.music.articulations import articulated
from trainer.music.note import ARTICULATION_STARTS, Articulation, Start
from trainer.music.pitch import Pitch
from trainer.music.rhythm import laid_out

NOTES = laid_out([Pitch.parse(name) for name in ("G4", "A4", "B4", "B4", "C5")])


@pytest.mark.parametrize(
    ("articulation", "starts"),
    [
        (Articulation.LEGATO_TONGUE, ["legato tongue"] * 5),
        (Articulation.SINGLE, ["tongued"] * 5),
        (Articulation.AIR_ONLY, ["breath"] * 5),
        (Articulation.AIR_ONLY_SILENT, ["silent air"] * 5),
        (Articulation.DOUBLE, ["tongued", "back-tongued", "tongued", "back-tongued", "tongued"]),
        (
            Articulation.REVERSE_DOUBLE,
            ["back-tongued", "tongued", "back-tongued", "tongued", "back-tongued"],
        ),
    ],
)
def test_the_starts_of_each_articulation(articulation, starts):
    assert [note.start for note in articulated(NOTES, articulation)] == starts


def test_a_slur_begins_with_the_tongue_and_a_repeated_note_is_stroked_softly():
    starts = [note.start for note in articulated(NOTES, Articulation.SLURRED)]
    assert starts == ["tongued", "slurred", "slurred", "legato tongue", "slurred"]


def test_a_slur_after_a_breath_begins_with_the_tongue():
    breathing = [replace(note, breath_after=note.index == 1) for note in NOTES]
    starts = [note.start for note in articulated(breathing, Articulation.SLURRED)]
    assert starts[2] is Start.TONGUED


def test_every_articulation_has_its_starts_and_changes_nothing_else():
    for articulation in Articulation:
        assert ARTICULATION_STARTS[articulation]
        notes = articulated(NOTES, articulation)
        assert [replace(note, start=Start.SLURRED, mark=None) for note in notes] == list(NOTES)
