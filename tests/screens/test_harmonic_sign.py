"""The small circle over notes that are harmonics of a lower fingering."""

from __future__ import annotations

from datetime import date

from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.screens.drawing.round_layout import score

ROUTINE = "title: H\nexercises: [{voicing: v, key: C, form: harmonics, range: full}]"


def test_each_harmonic_has_its_circle_and_no_other_note() -> None:
    routine, problems = read_routine(ROUTINE, "h.yaml")
    assert routine is not None, problems
    round_ = plan(routine, date(2026, 3, 2), 0)[0].rounds[0]
    layout = score(round_, 120, 40)
    for place, system in enumerate(layout.systems):
        rows = [row.text for row in layout.staff(place)]
        circled = {
            note.index
            for note in system.notes
            if any(row[system.column(note.beat) + 2] == "○" for row in rows)
        }
        assert circled == {note.index for note in system.notes if note.harmonic_of is not None}
    assert any(note.harmonic_of is not None for note in round_.notes)
