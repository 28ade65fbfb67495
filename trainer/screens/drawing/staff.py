"""A system of music in cells."""

from __future__ import annotations

from trainer.screens.drawing.canvas import Row
from trainer.screens.drawing.cell_painter import painted_in_cells
from trainer.screens.drawing.engrave import engraved
from trainer.screens.drawing.staff_rows import Frame, Sheet
from trainer.screens.drawing.systems import System


def staff_rows(
    system: System, sheet: Sheet, frame: Frame, width: int, care: frozenset[int] = frozenset()
) -> tuple[Row, ...]:
    """The system drawn; notes that need care, by index, are inked apart."""
    return painted_in_cells(engraved(system, sheet, frame, care), frame, width)
