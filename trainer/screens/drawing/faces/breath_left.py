"""One breath: how many beats of the phrase are left on it."""

from __future__ import annotations

import math
from fractions import Fraction

from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.faces.heard_so_far import HeardSoFar
from trainer.screens.drawing.faces.held_tuning import FIGURE_BLOCK, line_rows, odd
from trainer.screens.drawing.large_figures import figure_rows
from trainer.screens.drawing.systems import System
from trainer.screens.drawing.time_line import timing_row

LEFT_LINE, GONE_LINE = "━", "┄"
BREATH, BREATH_LABEL = "’", "breath"
BEATS_LEFT = "beats left on this breath"
LAST_BEAT = "beat left on this breath"


def breath_rows(
    round_: Round, system: System, heard: HeardSoFar, width: int, height: int
) -> tuple[Row, ...]:
    """The beats left in figures where there is room, the breath as a line that runs out, the
    pitch and the time line."""
    canvas = Canvas(width, height)
    roomy = height >= FIGURE_BLOCK + 1 + 3 + 1
    top = FIGURE_BLOCK if roomy else 0
    begin, end = phrase_at(round_, heard.beat)
    left = max(0, math.ceil(end - max(heard.beat, float(begin))))
    if roomy:
        figure = figure_rows(str(left))
        for row, line in enumerate(figure):
            canvas.put(system.left + 1, row, line, Ink.WORDS)
        words = LAST_BEAT if left == 1 else BEATS_LEFT
        canvas.put(system.left + 3 + len(figure[0]), 1, words, Ink.QUIET)
    rows = odd(height - 2 - top)
    lines = (
        *_breath_row(system, heard.beat, begin, end, width),
        *line_rows(round_, system, heard, width, rows),
        *timing_row(system, heard.answers, width),
    )
    canvas.paste(heard.under_music(lines, system), height - len(lines))
    return canvas.rows()


def phrase_at(round_: Round, beat: float) -> tuple[Fraction, Fraction]:
    """The beats from one breath to the next, around this beat."""
    breaths = [note.beat + note.length for note in round_.notes if note.breath_after]
    ends = [*breaths, round_.music_beats]
    end = next((each for each in ends if each > beat), ends[-1])
    return max((each for each in breaths if each <= beat), default=Fraction(0)), end


def _breath_row(
    system: System, beat: float, begin: Fraction, end: Fraction, width: int
) -> tuple[Row, ...]:
    canvas = Canvas(width, 1)
    first = system.column(max(begin, system.start)) + 1
    last = system.column(min(end, system.end))
    now = min(last, max(first, system.column(max(beat, float(system.start)))))
    canvas.put(0, 0, BREATH_LABEL, Ink.QUIET)
    canvas.put(first, 0, GONE_LINE * (now - first), Ink.LINE)
    canvas.put(now, 0, LEFT_LINE * (last - now), Ink.TRUE)
    if end <= system.end:
        canvas.put(last, 0, BREATH, Ink.NOTE)
    return canvas.rows()
