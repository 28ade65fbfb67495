"""Every round of the shipped routines can be drawn at every size, and read at the usual ones."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from tests.sweeps import mostly_slow
from trainer.app.todays_routine import SHIPPED_ROUTINES
from trainer.routine.load import load_routine
from trainer.routine.plan import plan
from trainer.screens.drawing.round_layout import score

USUAL_SIZES = [(80, 22), (120, 38)]
ODD_SIZES = [(40, 12), (60, 30), (200, 58)]
DAYS = [date(2026, 3, day) for day in (2, 3, 8)]


@pytest.mark.parametrize(
    "file", mostly_slow(sorted(SHIPPED_ROUTINES.glob("*.yaml")), 3), ids=lambda f: f.stem
)
def test_every_round_is_drawn(file: Path) -> None:
    routine, problems = load_routine(file)
    assert routine is not None, problems
    rounds = {r for day in DAYS for exercise in plan(routine, day, seed=1) for r in exercise.rounds}
    assert rounds
    for round_ in rounds:
        for size in USUAL_SIZES + ODD_SIZES:
            layout = score(round_, *size)
            drawn = [layout.staff(place) for place in range(len(layout.systems))]
            assert all(len(row.text) == size[0] for staff in drawn for row in staff)
            shown = [note.index for system in layout.systems for note in system.notes]
            assert shown == [note.index for note in round_.printed]
            if size in USUAL_SIZES:
                lower = layout.lower.height if layout.lower else 0
                assert layout.upper.height + lower + layout.lane_rows <= size[1], round_.title
                assert layout.trail_rows >= 1
                assert all(system.right <= size[0] for system in layout.systems)
                for system in layout.systems[:-1]:
                    end = float(system.end)
                    held = any(n.beat < end - 1 < n.beat + n.length for n in system.sounding)
                    assert layout.lower or layout.turn_column(end - 0.01) or held
