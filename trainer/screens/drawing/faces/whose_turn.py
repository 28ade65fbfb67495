"""Taking turns: whose turn it is, and how long until the other's."""

from __future__ import annotations

import math

from trainer.routine.round import PartnerPart, Round
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.faces.heard_so_far import HeardSoFar
from trainer.screens.drawing.faces.held_tuning import tuning_rows
from trainer.screens.drawing.large_figures import FIGURE_ROWS, figure_rows
from trainer.screens.drawing.systems import System

LISTEN = "Listen: the partner plays"
YOURS = "your turn"
YOUR_TURN_IN = {PartnerPart.CALLS: "You answer in", PartnerPart.TURNS: "You go on in"}


def turn_rows(
    round_: Round, system: System, heard: HeardSoFar, width: int, height: int
) -> tuple[Row, ...]:
    """While the partner plays the beats until the student's entry; else what is heard."""
    if not is_partners_turn(round_, heard.beat):
        canvas = Canvas(width, height)
        canvas.paste(tuning_rows(round_, system, heard, width, height), 0)
        canvas.put(width - len(YOURS), 0, YOURS, Ink.WORDS)
        return canvas.rows()
    return _partners_rows(round_, heard.beat, width, height)


def is_partners_turn(round_: Round, beat: float) -> bool:
    """Whether the newest note by the beat is the partner's."""
    begun = [note for note in round_.printed if note.beat <= beat]
    others = {note.index for note in round_.partner_notes}
    return bool(begun) and begun[-1].index in others


def _partners_rows(round_: Round, beat: float, width: int, height: int) -> tuple[Row, ...]:
    canvas = Canvas(width, height)
    entry = next((note.beat for note in round_.notes if note.beat > beat), None)
    left = None if entry is None else max(1, math.ceil(float(entry) - beat))
    with_figure = left is not None and height >= FIGURE_ROWS + 2
    lines = figure_rows(str(left)) if with_figure else ()
    soon = "" if left is None else YOUR_TURN_IN.get(round_.partner or PartnerPart.CALLS, "")
    words = [LISTEN, soon if with_figure or left is None else f"{soon} {left}"]
    top = max(0, (height - len(words) - len(lines)) // 2)
    for row, text in enumerate(words, top):
        ink = Ink.WORDS if row == top else Ink.QUIET
        canvas.put((width - len(text)) // 2, row, text, ink)
    for row, line in enumerate(lines, top + len(words)):
        canvas.put((width - len(line)) // 2, row, line, Ink.WORDS)
    return canvas.rows()
