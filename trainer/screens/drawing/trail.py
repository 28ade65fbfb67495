"""The pitch trail: cents up and down, time to the right, under (or over) the notes it belongs to.

On the middle row a heavy line is a note within its aim; above and below it, half a row for every
ten cents beyond.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping

from trainer.ear.heard import LiveReading, Take
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.systems import System

USUAL_AIM_CENTS = 10.0
"""Drawn as true where the teacher asks for nothing."""
HALF_ROW_CENTS = 10.0
ANOTHER_NOTE_CENTS = 50.0
"""Farther off it is no longer this note, and leaves no trail."""
SHARP, FLAT = "sharp", "flat"
BEFORE_LABEL = "before"
BEFORE = {"━": "─", "▀": "⠉", "▄": "⣀", "↑": "⠉", "↓": "⣀"}
"""Where a note stood the last time the same was played: as high as today's mark, and thinner."""

Trail = dict[int, float]
"""Cents, or decibels, by column."""


class TrailPen:
    """Draws the trail of one system while it is played, reading by reading."""

    def __init__(self, system: System, beat_s: float) -> None:
        self.trail: Trail = {}
        self.settled: Trail = {}
        """Where the note sounding then had stood of late, in the columns where that is sure."""
        self.level_db: Trail = {}
        self._system = system
        self._columns_per_s = system.beat_columns / beat_s
        self._notes = {note.index: note for note in system.sounding}
        self._began_s: dict[int, float] = {}
        self._last_column: dict[int, int] = {}

    def draw(self, readings: Iterable[LiveReading]) -> None:
        """Add readings; each stands as far into its note as it came after the note's first."""
        for reading in readings:
            note = self._notes.get(-1 if reading.note_index is None else reading.note_index)
            if note is None or reading.cents is None or abs(reading.cents) > ANOTHER_NOTE_CENTS:
                continue
            began_s = self._began_s.setdefault(note.index, reading.time_s)
            first = self._system.column(note.beat) + 1
            after = self._system.column(note.beat + note.length)
            passed = (reading.time_s - began_s) * self._columns_per_s
            beat = float(note.beat) + passed / self._system.beat_columns
            column = first + int(passed) + self._system.bar_columns(note.beat, beat)
            column = min(column, max(after, first))
            last = self._last_column.get(note.index, column)
            for between in range(min(last + 1, column), column + 1):
                self.trail[between] = reading.cents
                self.level_db[between] = reading.level_db
                if reading.settled_cents is not None:
                    self.settled[between] = reading.settled_cents
            self._last_column[note.index] = column


def take_trail(system: System, take: Take) -> Trail:
    """The whole take on the music: each note at its mean."""
    cents_of = {
        heard.index: heard.cents for heard in take.expected_notes if heard.index is not None
    }
    return mean_trail(system, cents_of)


def mean_trail(system: System, cents_of: Mapping[int, float | None]) -> Trail:
    """Each note at its mean, by its index."""
    trail: Trail = {}
    for note in system.sounding:
        cents = cents_of.get(note.index)
        if cents is not None and abs(cents) <= ANOTHER_NOTE_CENTS:
            first, after = system.column(note.beat), system.column(note.beat + note.length)
            trail |= dict.fromkeys(range(first + 1, max(after, first + 2)), cents)
    return trail


def trail_rows(
    system: System,
    trail: Trail,
    height: int,
    width: int,
    aim_cents: float | None,
    told: Container[int],
    before: Trail | None = None,
) -> tuple[Row, ...]:
    """The trail drawn over an odd number of rows, over that of the time before where there is room.

    told: the columns of which something is said; only these are inked as off.
    """
    canvas = Canvas(width, height)
    middle = height // 2
    canvas.put(system.left, middle, "┄" * (system.right - system.left), Ink.LINE)
    if height > 1:
        canvas.put(0, 0, SHARP, Ink.QUIET)
        canvas.put(0, height - 1, FLAT, Ink.QUIET)
    aim = aim_or_usual(aim_cents)
    if before and height > 1:
        draw_before(canvas, system, before, trail, lambda cents: _mark(cents, aim, middle)[:2])
    for column, cents in trail.items():
        if not system.left <= column <= system.right:  # held from or into another system
            continue
        row, mark, ink = _mark(cents, aim, middle)
        canvas.put(column, row, mark, ink if column in told else Ink.TRUE)
    return canvas.rows()


def draw_before(
    canvas: Canvas,
    system: System,
    before: Trail,
    trail: Trail,
    mark_of: Callable[[float], tuple[int, str]],
) -> None:
    """A thin line at each note where today's doesn't cover it, and on its left what it is.

    mark_of: the row and the sign of today's mark at so many cents.
    """
    uncovered = {
        column: (row, mark)
        for column, (row, mark) in ((column, mark_of(cents)) for column, cents in before.items())
        if system.left <= column <= system.right
        and (column not in trail or mark_of(trail[column])[0] != row)
    }
    for column, (row, mark) in uncovered.items():
        canvas.put(column, row, BEFORE[mark], Ink.QUIET)
    if uncovered:
        canvas.put(0, canvas.height // 2, BEFORE_LABEL, Ink.QUIET)


def off_columns(settled: Trail, aim_cents: float | None) -> frozenset[int]:
    """The columns in which a note surely stood beyond its aim."""
    aim = aim_or_usual(aim_cents)
    return frozenset(column for column, cents in settled.items() if abs(cents) > aim)


def aim_or_usual(aim_cents: float | None) -> float:
    """The teacher's aim, or what is drawn as true where there is none."""
    return USUAL_AIM_CENTS if aim_cents is None else aim_cents


def note_columns(system: System, indices: frozenset[int]) -> frozenset[int]:
    """The columns that these notes sound in."""
    return frozenset(
        column
        for note in system.sounding
        if note.index in indices
        for column in range(system.column(note.beat), system.column(note.beat + note.length) + 1)
    )


def _mark(cents: float, aim_cents: float, middle: int) -> tuple[int, str, Ink]:
    if abs(cents) <= aim_cents:
        return middle, "━", Ink.TRUE
    half_rows = min(int((abs(cents) - aim_cents) // HALF_ROW_CENTS), 2 * middle)
    rows_away = (half_rows + 1) // 2
    near = half_rows % 2 == 1  # the half of its row that lies nearer to the middle
    if cents > 0:
        return middle - rows_away, "▄" if near else "▀", Ink.OFF
    return middle + rows_away, "▀" if near else "▄", Ink.OFF
