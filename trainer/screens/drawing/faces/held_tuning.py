"""How a held note stands: its cents in large figures, and a line finer than a scale's."""

from __future__ import annotations

from collections.abc import Container

from trainer.music.note import Note
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.faces.heard_so_far import (
    HeardSoFar,
    is_held,
    is_mostly_held,
    note_at,
)
from trainer.screens.drawing.large_figures import FIGURE_ROWS, figure_rows
from trainer.screens.drawing.systems import System
from trainer.screens.drawing.time_line import timing_row
from trainer.screens.drawing.trail import (
    ANOTHER_NOTE_CENTS,
    FLAT,
    SHARP,
    Trail,
    aim_or_usual,
    draw_before,
    off_columns,
    trail_rows,
)

CENTS_A_ROW = 5
"""Of the fine line, so that 3 cents are half a row."""
FEWEST_FINE_ROWS = 5
"""In fewer a fine line leaves the lane at once."""
FIGURE_BLOCK = FIGURE_ROWS + 1
"""A large figure over the line, and a blank row."""
ABOVE, BELOW = "↑", "↓"
"""Farther off than the line reaches, or than a note can be and still be this one."""


def tuning_rows(
    round_: Round, system: System, heard: HeardSoFar, width: int, height: int
) -> tuple[Row, ...]:
    """The line and the time line; the figure over them, or where room is short beside its note."""
    note = note_at(round_, heard.beat)
    shown = note if note is not None and is_held(note) else None
    cents = None if shown is None else heard.steady_cents(shown)
    roomy = is_mostly_held(round_) and height >= FIGURE_BLOCK + FEWEST_FINE_ROWS + 1
    canvas = Canvas(width, height)
    top = FIGURE_BLOCK if roomy else 0
    rows = odd(height - 1 - top)
    lines = (
        *line_rows(round_, system, heard, width, rows),
        *timing_row(system, heard.answers, width),
    )
    canvas.paste(lines if roomy else heard.under_music(lines, system), height - 1 - rows)
    if shown is not None and cents is not None:
        beside = _beside(shown, system, cents, width)
        x = system.column(max(shown.beat, system.start)) + 1 if roomy else beside
        if x is not None:
            put_cents(canvas, x, 0 if roomy else max(0, (rows - FIGURE_ROWS) // 2), cents, round_)
    return canvas.rows()


def line_rows(
    round_: Round, system: System, heard: HeardSoFar, width: int, height: int
) -> tuple[Row, ...]:
    """The trail of the round: fine where its notes are held and there is room."""
    trail, aim = heard.cents or {}, round_.aims.cents
    told = off_columns(heard.settled or {}, aim)
    if is_mostly_held(round_) and height >= FEWEST_FINE_ROWS:
        return fine_rows(system, trail, height, width, aim, told, heard.before)
    return trail_rows(system, trail, height, width, aim, told, heard.before)


def fine_rows(
    system: System,
    trail: Trail,
    height: int,
    width: int,
    aim_cents: float | None,
    told: Container[int],
    before: Trail | None = None,
) -> tuple[Row, ...]:
    """Cents up and down over an odd number of rows, CENTS_A_ROW each; arrows beyond.

    told: as `trail.trail_rows` has it.
    """
    canvas = Canvas(width, height)
    middle = height // 2
    canvas.put(system.left, middle, "┄" * (system.right - system.left), Ink.LINE)
    _label(canvas, system, middle)
    if before:
        draw_before(
            canvas, system, before, trail, lambda cents: fine_mark(cents, middle, CENTS_A_ROW)
        )
    aim = aim_or_usual(aim_cents)
    for column, cents in trail.items():
        if system.left <= column <= system.right:
            row, mark = fine_mark(cents, middle, CENTS_A_ROW)
            off = abs(cents) > aim and column in told
            canvas.put(column, row, mark, Ink.OFF if off else Ink.TRUE)
    return canvas.rows()


def _label(canvas: Canvas, system: System, middle: int) -> None:
    canvas.put(0, 0, SHARP, Ink.QUIET)
    canvas.put(0, canvas.height - 1, FLAT, Ink.QUIET)
    for rows in range(2, middle + 1, 2):
        for row, sign in ((middle - rows, "+"), (middle + rows, "−")):
            text = f"{sign}{rows * CENTS_A_ROW}"
            x = system.left - 1 - len(text)
            if x >= (len(SHARP) + 1 if row in (0, canvas.height - 1) else 0):
                canvas.put(x, row, text, Ink.QUIET)


def fine_mark(cents: float, middle: int, cents_a_row: float) -> tuple[int, str]:
    """The row and what is drawn in it."""
    halves = round(abs(cents) / (cents_a_row / 2))
    if halves == 0:
        return middle, "━"
    rows, up = halves // 2, cents > 0
    if rows > middle:
        return (0, ABOVE) if up else (2 * middle, BELOW)
    near = halves % 2 == 0  # the half of its row that lies nearer to the middle
    if up:
        return middle - rows, "▄" if near else "▀"
    return middle + rows, "▀" if near else "▄"


def rows_from_middle(cents: float, middle: int, cents_a_row: float) -> int:
    """Whole rows up, or down below nought; no farther than there are."""
    return max(-middle, min(middle, round(cents / cents_a_row)))


def put_cents(canvas: Canvas, x: int, row: int, cents: float, round_: Round) -> None:
    """Cents in large figures; an arrow where it is nearly another note."""
    aim = aim_or_usual(round_.aims.cents)
    ink = Ink.WORDS if abs(cents) <= aim else Ink.OFF
    lines = figure_rows(cents_text(cents))
    for place, line in enumerate(lines, row):
        canvas.put(x, place, line, ink)


def cents_text(cents: float) -> str:
    """'+7', '−12', '0'; an arrow from ANOTHER_NOTE_CENTS on."""
    if abs(cents) > ANOTHER_NOTE_CENTS:
        return ABOVE if cents > 0 else BELOW
    return f"{cents:+.0f}".replace("-", "−") if round(cents) else "0"


def _beside(note: Note, system: System, cents: float, width: int) -> int | None:
    """Where the figure stands clear of its note: after it, else before it."""
    long = len(figure_rows(cents_text(cents))[0])
    after = system.column(note.beat + note.length) + 2
    if after + long <= width:
        return after
    before = system.column(max(note.beat, system.start)) - 1 - long
    return before if before >= system.left else None


def odd(rows: int) -> int:
    """An odd number of rows has one in the middle."""
    return max(1, rows - 1 + rows % 2)
