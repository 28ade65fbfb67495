"""The tuner's face: the note on its staff, its cents in large figures, the last seconds' line."""

from __future__ import annotations

from trainer.music.names import NoteNames
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.large_figures import FIGURE_ROWS, figure_rows, filling_rows
from trainer.screens.drawing.large_thing import large_name
from trainer.screens.drawing.line_of_notes import notes_rows
from trainer.session.view import TunerView

IN_TUNE_CENTS = 5.0
"""Two tones a sixteenth of a half step apart pass for one pitch (common practice, no source)."""
LINE_ROWS = 7
LINE_CENTS = 35.0
"""From the line's middle to its edges; what lies further keeps to the edge."""
STAFF_ROWS = 9
"""What a staff with ledger lines needs at least."""
CARE = "△"


def tuner_rows(tuner: TunerView, width: int, height: int) -> tuple[Row, ...]:
    """As much of it as there is room for; the figure always."""
    below = FIGURE_ROWS + 1 + LINE_ROWS
    staff: tuple[Row, ...] = ()
    if tuner.written is not None and height - below >= STAFF_ROWS:
        staff = notes_rows((tuner.written,), width, height - below)
    figure = _figure(tuner, width)
    line = _line(tuner, width) if height >= below else ()
    return (*staff, *figure, *Canvas(width, 1).rows(), *line)


def note_rows(tuner: TunerView, names: NoteNames, width: int, height: int) -> tuple[Row, ...]:
    """The note alone, as large as there is room for; behind it its sign where it is sharp or
    flat."""
    if tuner.written is None:
        return Canvas(width, height).rows()
    true = in_tune(tuner)
    sign = "" if true else "+" if tuner.cents > 0 else "−"
    ink = (Ink.TRUE if true else Ink.OFF) if tuner.stands_s else Ink.QUIET
    return filling_rows(large_name(tuner.written, names) + sign, ink, width, height)


def in_tune(tuner: TunerView) -> bool:
    """What sounds, or sounded last, stands near enough to its place."""
    return abs(tuner.cents) <= IN_TUNE_CENTS


def _figure(tuner: TunerView, width: int) -> tuple[Row, ...]:
    """The cents with their sign; quiet once the note is over."""
    canvas = Canvas(width, FIGURE_ROWS)
    if tuner.written is None:
        return canvas.rows()
    cents = round(tuner.cents)
    figure = figure_rows(f"{cents:+d}" if cents else "0")
    ink = Ink.TRUE if in_tune(tuner) else Ink.OFF
    left = (width - len(figure[0])) // 2
    for row, text in enumerate(figure):
        canvas.put(left, row, text, ink if tuner.stands_s else Ink.QUIET)
    if not in_tune(tuner):
        canvas.put(left + len(figure[0]) + 2, 1, CARE, ink if tuner.stands_s else Ink.QUIET)
    return canvas.rows()


def _line(tuner: TunerView, width: int) -> tuple[Row, ...]:
    """Time to the right, cents upwards; the straight line is where the note should stand."""
    canvas = Canvas(width, LINE_ROWS)
    length = min(width, len(tuner.trail)) if tuner.trail else 0
    left, middle = (width - 60) // 2, LINE_ROWS // 2
    canvas.put(max(0, left), middle, "─" * min(60, width), Ink.LINE)
    newest = tuner.trail[len(tuner.trail) - length :]
    for column, cents in enumerate(newest, max(0, left) + 60 - length):
        if cents is not None:
            held = max(-LINE_CENTS, min(LINE_CENTS, cents))
            half = round(middle * 2 + 0.5 - held / LINE_CENTS * (LINE_ROWS - 0.5))
            ink = Ink.TRUE if abs(cents) <= IN_TUNE_CENTS else Ink.OFF
            for x in (2 * column, 2 * column + 1):
                canvas.dot(x, max(0, min(2 * LINE_ROWS - 1, half)), ink)
    return canvas.rows()
