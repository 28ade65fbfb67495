"""What the fingers do in a knot: a row a note, a column a finger, a mark under those that move."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from trainer.music.instrument import Instrument
from trainer.music.names import NoteNames, named
from trainer.music.pitch import Pitch

PRESSED, OPEN, MOVES = "●", "○", "△"
USUAL_KEYS = {
    "LT": "T",
    "L1": "L1",
    "L2": "L2",
    "L3": "L3",
    "L4": "G#",
    "R1": "R1",
    "R2": "R2",
    "R3": "R3",
    "R4": "Eb",
}
"""Each finger, thumb first, and the key it lies on; where it presses another, that is written."""
HEADS = {"LT": "T"}
CELL = 4
"""Columns of one finger."""


def fingering_lines(
    pitches: Sequence[Pitch], instrument: Instrument, names: NoteNames
) -> list[str]:
    """Lines of equal length; none where a note is not on the instrument."""
    try:
        rows = [_row(pitch, instrument) for pitch in pitches]
        moving = {
            finger
            for frm, to in pairwise(pitches)
            for finger in instrument.finger_change(frm, to).fingers
        }
    except ValueError:
        return []
    labels = [named(pitch, names) for pitch in pitches]
    label = max((len(name) for name in labels), default=0) + 2
    heads = [HEADS.get(finger, finger) for finger in USUAL_KEYS]
    moves = [MOVES * (finger in moving) for finger in USUAL_KEYS]
    rows = [heads, *rows, moves] if rows else []
    return [
        f"{name:{label}}{''.join(f'{cell:^{CELL}}' for cell in row)}"
        for name, row in zip(["", *labels, ""], rows, strict=False)
    ]


def _row(pitch: Pitch, instrument: Instrument) -> list[str]:
    keys = {instrument.fingers[key]: key for key in instrument.fingering(pitch)}
    return [_cell(keys.get(finger), usual) for finger, usual in USUAL_KEYS.items()]


def _cell(key: str | None, usual: str) -> str:
    if key is None:
        return OPEN
    return PRESSED if key == usual else key
