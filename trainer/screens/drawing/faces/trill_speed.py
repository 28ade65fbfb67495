"""Trills: how fast the fingers move against what the beat asks for."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from trainer.ear.heard import LiveNote
from trainer.music.note import Note
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.faces.heard_so_far import HeardSoFar
from trainer.screens.drawing.faces.held_tuning import line_rows, odd
from trainer.screens.drawing.systems import System
from trainer.screens.drawing.time_line import timing_row

FEWEST_NOTES = 4
"""Of the same length in a row, for a speed to be told; our own choice."""
ASKED_COLUMNS = 32
"""Length of the asked speed's bar; the heard one is longer or shorter by as much as it is faster or
slower."""
LABELS = "tr asked", "heard"
LEFT = 10
"""Columns of the labels."""
ASKED_BAR, HEARD_BAR, ASKED_END = "▀", "█", "│"
TRILL, NAME_COLUMNS, SPEED_COLUMNS = "tr", 12, 20
"""Columns of a trill's name, and of the asked speed, afterwards."""
Onset = tuple[Note, float]
"""A note, and the beat it began on."""


def trill_rows(
    round_: Round, system: System, heard: HeardSoFar, width: int, height: int
) -> tuple[Row, ...]:
    """Two bars, the pitch and the time line; where room is short the bars alone."""
    canvas = Canvas(width, height)
    trilled = [note for note in round_.notes if note.length < 1 and note.beat <= heard.beat]
    if trilled:
        onsets = _onsets(round_, heard.answers)
        draw_speeds(canvas, 0, 1 / trilled[-1].length, _speed(trilled[-1], onsets))
    rows = odd(height - 4) if height >= 6 else 0
    lines = (
        *(line_rows(round_, system, heard, width, rows) if rows else ()),
        *timing_row(system, heard.answers, width),
    )
    canvas.paste(heard.under_music(lines, system), height - len(lines))
    return canvas.rows()


def draw_speeds(canvas: Canvas, row: int, asked: Fraction, heard: float | None) -> None:
    """The speed asked for in notes a beat, and the one heard, as bars over one another."""
    canvas.put(0, row, f"{LABELS[0]:>{LEFT - 1}}", Ink.QUIET)
    canvas.put(LEFT, row, ASKED_BAR * ASKED_COLUMNS, Ink.SIGN)
    canvas.put(LEFT + ASKED_COLUMNS + 1, row, f"{_number(float(asked))} a beat", Ink.QUIET)
    canvas.put(0, row + 1, f"{LABELS[1]:>{LEFT - 1}}", Ink.QUIET)
    if heard is not None:
        room = canvas.width - LEFT - len("16 a beat") - 1
        long = min(room, round(ASKED_COLUMNS * heard / float(asked)))
        canvas.put(LEFT, row + 1, HEARD_BAR * long, Ink.TRUE)
        canvas.put(LEFT + long + 1, row + 1, f"{_number(heard)} a beat", Ink.WORDS)


def draw_trill(
    canvas: Canvas,
    row: int,
    names: tuple[str, str],
    asked: float,
    heard: float | None,
    first_share: float | None,
) -> None:
    """A trill in two rows: its speed as a bar up to the asked one's end and beyond, and its two
    notes as bars that are as long as they are."""
    canvas.put(0, row, f"{TRILL} {names[0]}–{names[1]}", Ink.WORDS)
    if heard is not None:
        long = min(2 * SPEED_COLUMNS, round(SPEED_COLUMNS * heard / asked))
        canvas.put(NAME_COLUMNS, row, HEARD_BAR * long, Ink.TRUE)
        told = f"{_number(heard)} a beat, asked {_number(asked)}"
        canvas.put(NAME_COLUMNS + max(long, SPEED_COLUMNS) + 2, row, told, Ink.QUIET)
    canvas.put(NAME_COLUMNS + SPEED_COLUMNS, row, ASKED_END, Ink.SIGN)
    if first_share is not None:
        first = round(2 * SPEED_COLUMNS * first_share)
        for x, name, long in (
            (NAME_COLUMNS, names[0], first),
            (NAME_COLUMNS + first + 6, names[1], 2 * SPEED_COLUMNS - first),
        ):
            canvas.put(x, row + 1, f"{name:<4}", Ink.QUIET)
            canvas.put(x + 4, row + 1, ASKED_BAR * long, Ink.TRUE)


def _number(speed: float) -> str:
    return f"{speed:.1f}".removesuffix(".0")


def _onsets(round_: Round, answers: Sequence[LiveNote]) -> list[Onset]:
    """The notes heard so far with the beats they began on, in order."""
    notes = {note.index: note for note in round_.notes}
    beat_ms = 1000 * round_.beat_s
    return [
        (notes[one.index], float(notes[one.index].beat) + one.off_beat_ms / beat_ms)
        for one in sorted(answers, key=lambda one: one.index)
        if one.off_beat_ms is not None and one.index in notes
    ]


def _speed(now: Note, onsets: Sequence[Onset]) -> float | None:
    """Notes a beat over the last beat's notes of the length now due; None while too few were."""
    run: list[Onset] = []
    for note, beat in reversed(onsets):
        if not run and note.length != now.length:
            continue  # the long note the trill ends on
        if note.length != now.length or (run and note.index != run[-1][0].index - 1):
            break
        run.append((note, beat))
    run = run[: max(FEWEST_NOTES, round(1 / now.length) + 1)]
    if len(run) < FEWEST_NOTES or run[0][1] <= run[-1][1]:
        return None
    return (len(run) - 1) / (run[0][1] - run[-1][1])
