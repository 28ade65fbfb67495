"""A trouble spot's fingers, large: every note's keys, and between them what each finger does."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from trainer.music.instrument import Instrument
from trainer.music.names import NoteNames, named
from trainer.music.pitch import Pitch
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.fingerings import HEADS, USUAL_KEYS

KEY_COLUMNS = 6
"""Of one finger."""
LABEL_COLUMNS = 6
"""Of a note's name."""
PRESSED, LIFTED = ("▟██▙", "▜██▛"), ("╭──╮", "╰──╯")
HANDS_GAP = 3
"""Columns between the left hand and the right."""
DOWN, UP, SLIDES = "↓", "↑", "↔"


def chart_rows(
    pitches: Sequence[Pitch], instrument: Instrument, names: NoteNames, width: int
) -> tuple[Row, ...]:
    """Two rows a note, a row of moves between; none where it doesn't fit or a note is not on the
    instrument."""
    try:
        keys = [_keys(pitch, instrument) for pitch in pitches]
    except ValueError:
        return ()
    wide = LABEL_COLUMNS + KEY_COLUMNS * len(USUAL_KEYS) + HANDS_GAP
    if not keys or width < wide:
        return ()
    canvas = Canvas(width, 3 * len(keys))
    left = (width - wide) // 2
    columns = [left + LABEL_COLUMNS + _offset(place) for place in range(len(USUAL_KEYS))]
    for x, finger in zip(columns, USUAL_KEYS, strict=True):
        canvas.put(x, 0, f"{HEADS.get(finger, finger):^4}", Ink.QUIET)
    for place, (pitch, pressed) in enumerate(zip(pitches, keys, strict=True)):
        row = 1 + 3 * place
        canvas.put(left, row, named(pitch, names), Ink.WORDS)
        for x, (finger, usual) in zip(columns, USUAL_KEYS.items(), strict=True):
            _draw_key(canvas, x, row, pressed.get(finger), usual)
    for place, (before, after) in enumerate(pairwise(keys)):
        for x, finger in zip(columns, USUAL_KEYS, strict=True):
            canvas.put(x + 1, 3 + 3 * place, _move(before.get(finger), after.get(finger)), Ink.CARE)
    return canvas.rows()


def _offset(place: int) -> int:
    """Columns from the first finger to another; the right hand stands apart."""
    right = list(USUAL_KEYS)[place].startswith("R")
    return KEY_COLUMNS * place + HANDS_GAP * right


def _keys(pitch: Pitch, instrument: Instrument) -> dict[str, str]:
    """The key under each finger that presses one."""
    return {instrument.fingers[key]: key for key in instrument.fingering(pitch)}


def _draw_key(canvas: Canvas, x: int, row: int, key: str | None, usual: str) -> None:
    """Filled where it is pressed; the name of a key that isn't the finger's usual one."""
    drawn, ink = (LIFTED, Ink.LINE) if key is None else (PRESSED, Ink.NOTE)
    for place, text in enumerate(drawn, row):
        canvas.put(x, place, text, ink)
    if key is not None and key != usual:
        canvas.put(x + 1, row, f"{key:^2}", ink)


def _move(before: str | None, after: str | None) -> str:
    if before == after:
        return ""
    if before is None:
        return DOWN * 2
    return UP * 2 if after is None else SLIDES * 2
