"""After a phrase in two colours: the overtones of both, and the tuning of both, side by side."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median

from trainer.ear.heard import Take
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.trail import aim_or_usual
from trainer.session.view import OtherColour

OVERTONES, TUNING = "overtones", "tuning"
LABEL_COLUMNS = 12
"""Of a colour's name."""
BAR_COLUMNS = 24
"""Of the longest bar of overtones."""
DB_A_COLUMN = 1.0
"""Of such a bar."""
MIDDLE_DB = -12.0
"""A bar that fills half: the middle of what flutes' notes show (SHARC: the second harmonic 10 to 40
dB down from D5 on, stronger below), from memory."""
CENTS_A_COLUMN = 2.0
"""Of the tuning."""
SCALE_COLUMNS = 25
"""Of the tuning, from 24 cents flat to as many sharp."""
BAR, POINT = "█", "●"


@dataclass(frozen=True)
class _Colour:
    name: str
    balance_db: float | None
    cents: float | None


def colour_rows(
    round_: Round, take: Take, other: OtherColour | None, width: int
) -> tuple[Row, ...]:
    """A line for each colour: a bar as long as its overtones are strong, a point at its tuning."""
    heard = take.expected_notes
    now = _Colour(
        round_.manner.colour,
        _median(note.tone.harmonic_balance_db for note in heard if note.tone),
        _median(note.cents for note in heard),
    )
    lines = [now]
    if other is not None:
        lines.insert(0, _Colour(other.colour, _median(other.balance_db), _median(other.cents)))
    canvas = Canvas(width, 1 + 2 * len(lines))
    left = max(0, (width - LABEL_COLUMNS - BAR_COLUMNS - SCALE_COLUMNS - 12) // 2)
    bar, scale = left + LABEL_COLUMNS, left + LABEL_COLUMNS + BAR_COLUMNS + 4
    canvas.put(bar, 0, OVERTONES, Ink.QUIET)
    canvas.put(scale + (SCALE_COLUMNS - len(TUNING)) // 2, 0, TUNING, Ink.QUIET)
    aim = aim_or_usual(round_.aims.cents)
    for place, colour in enumerate(lines):
        row = 1 + 2 * place
        canvas.put(left, row, colour.name[: LABEL_COLUMNS - 1], Ink.WORDS)
        _draw_bar(canvas, bar, row, colour.balance_db)
        _draw_tuning(canvas, scale, row, colour.cents, aim)
    return canvas.rows()


def _median(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return median(known) if known else None


def _draw_bar(canvas: Canvas, x: int, row: int, balance_db: float | None) -> None:
    if balance_db is not None:
        long = round(BAR_COLUMNS / 2 + (balance_db - MIDDLE_DB) / DB_A_COLUMN)
        canvas.put(x, row, BAR * min(BAR_COLUMNS, max(1, long)), Ink.TRUE)


def _draw_tuning(canvas: Canvas, x: int, row: int, cents: float | None, aim: float) -> None:
    canvas.put(x, row, "┄" * SCALE_COLUMNS, Ink.LINE)
    middle = SCALE_COLUMNS // 2
    canvas.put(x + middle, row, "│", Ink.LINE)
    if cents is not None:
        column = min(SCALE_COLUMNS - 1, max(0, middle + round(cents / CENTS_A_COLUMN)))
        ink = Ink.TRUE if abs(cents) <= aim else Ink.OFF
        canvas.put(x + column, row, POINT, ink)
        text = f"{cents:+.0f}".replace("-", "−") if round(cents) else "0"
        canvas.put(x + SCALE_COLUMNS + 2, row, text, ink)
