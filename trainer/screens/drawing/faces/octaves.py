"""After voicing: the octaves of each note laid over one another."""

from __future__ import annotations

from collections import defaultdict
from statistics import median

from trainer.ear.heard import Take
from trainer.music.names import NoteNames, named
from trainer.music.pitch import Pitch
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.faces.held_tuning import CENTS_A_ROW, rows_from_middle
from trainer.screens.drawing.trail import FLAT, SHARP, aim_or_usual

ROWS = 7
"""From 15 cents sharp to as many flat."""
LEFT = 10
"""Columns of the labels."""
SIGN_COLUMNS = 2
"""Of one octave's sign."""
HARMONIC = "○"
LEVEL = "On one level they agree."
Laid = dict[str, dict[str, tuple[Pitch, float]]]
"""By the name without its octave: each octave's sign, its pitch and median cents."""


def octave_rows(
    round_: Round, take: Take, names: NoteNames, width: int, spoken_of: frozenset[int]
) -> tuple[Row, ...]:
    """A group of signs for each name: 1 the lowest octave, ○ a harmonic; level means one tuning.

    spoken_of: notes that something was said of, by index; only these are inked as off.
    """
    laid = _laid(round_, take)
    most = max((len(octaves) for octaves in laid.values()), default=0)
    if most < 2:
        return ()
    group = most * SIGN_COLUMNS + 1
    canvas = Canvas(width, ROWS + 2)
    canvas.put(0, 0, SHARP, Ink.QUIET)
    canvas.put(0, ROWS - 1, FLAT, Ink.QUIET)
    canvas.put(LEFT, ROWS + 1, _legend(laid), Ink.QUIET)
    shown = list(laid.values())[: (width - LEFT) // group]
    middle = ROWS // 2
    canvas.put(LEFT, middle, "┄" * (group * len(shown) - 1), Ink.LINE)
    for rows in (2, -2):
        text = f"{rows * CENTS_A_ROW:+.0f}".replace("-", "−")
        canvas.put(LEFT - 1 - len(text), middle - rows, text, Ink.QUIET)
    aim = aim_or_usual(round_.aims.cents)
    told = {note.pitch for note in round_.notes if note.index in spoken_of}
    for place, octaves in enumerate(shown):
        left = LEFT + place * group
        lowest = min((pitch for pitch, _ in octaves.values()), key=lambda pitch: pitch.midi)
        canvas.put(left, ROWS, named(lowest, names), Ink.WORDS)
        for column, (sign, (pitch, cents)) in enumerate(sorted(octaves.items())):
            row = middle - rows_from_middle(cents, middle, CENTS_A_ROW)
            off = abs(cents) > aim and pitch in told
            canvas.put(left + column * SIGN_COLUMNS, row, sign, Ink.OFF if off else Ink.TRUE)
    return canvas.rows()


def _legend(laid: Laid) -> str:
    """What the signs are, and what to look for."""
    signs = {sign for octaves in laid.values() for sign in octaves}
    numbers = sorted(signs - {HARMONIC})
    told = f"{numbers[0]} is the lowest octave, {numbers[-1]} the highest"
    if len(numbers) < 2:
        told = f"{''.join(numbers)} is the true note"
    harmonic = f", {HARMONIC} a harmonic" if HARMONIC in signs else ""
    return f"{told}{harmonic}. {LEVEL}"


def _laid(round_: Round, take: Take) -> Laid:
    """What was heard of each name, in the order of the round."""
    lowest = min(note.pitch.octave for note in round_.notes)
    heard = {one.index: one.cents for one in take.expected_notes}
    cents: dict[str, dict[str, list[tuple[Pitch, float]]]] = defaultdict(lambda: defaultdict(list))
    for note in round_.notes:
        found = heard.get(note.index)
        if found is not None:
            octave = str(note.pitch.octave - lowest + 1)
            sign = HARMONIC if note.harmonic_of is not None else octave
            cents[note.pitch.name][sign].append((note.pitch, found))
    return {
        name: {
            sign: (each[0][0], median(found for _, found in each)) for sign, each in octaves.items()
        }
        for name, octaves in cents.items()
    }
