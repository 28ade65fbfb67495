"""The shipped air of 1778 beside music21's own reading of the same print."""

from __future__ import annotations

from pathlib import Path

import music21

from trainer.music.note import Ornament
from trainer.routine.load import read_routine
from trainer.routine.model import Passage

FILE = Path(__file__).parents[2] / "routines" / "old_air.yaml"
PRINT = Path(music21.__file__).parent / "corpus" / "airdsAirs" / "book1.abc"


def air(text: str) -> Passage:
    routine, problems = read_routine(text, FILE.name)
    assert routine is not None, problems
    return next(one for one in routine.entries if isinstance(one, Passage))


def test_every_note_is_the_prints() -> None:
    """Number 60 of James Aird's first volume, as music21 reads it: once through, as written."""
    text = FILE.read_text(encoding="utf-8")
    for sign, plain in ((":|:", "||"), ("|1", "|"), (":|2", "rest |")):
        text = text.replace(sign, plain)
    beat = air(text).meter.beat_quarters
    ours = [(str(note.pitch), float(note.length * beat)) for note in air(text).notes]
    part = music21.converter.parse(PRINT, format="abc", number=60).flatten().notes
    theirs = [
        (note.nameWithOctave.replace("-", "b"), float(note.quarterLength))
        for note in part
        if not note.duration.isGrace
    ]
    leading_in = [("F#5", 0.25), ("A5", 0.25)]
    before_the_second = len(ours) - 22
    assert theirs[before_the_second : before_the_second + 2] == leading_in
    del theirs[before_the_second : before_the_second + 2]  # ours leads into both endings once
    assert ours == theirs


def test_it_has_its_upbeat_its_graces_and_its_repeats() -> None:
    found = air(FILE.read_text(encoding="utf-8"))
    assert found.upbeat == 0.5
    assert len(found.notes) > 150
    assert [len(note.graces) for note in found.notes if note.graces] == [1, 1, 1, 1, 2, 2]
    assert sum(note.ornament is Ornament.TRILL for note in found.notes) == 2
