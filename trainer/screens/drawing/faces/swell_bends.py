"""After a swell: where the pitch stood as the note was soft and as it was loud."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from statistics import fmean

from trainer.ear.heard import HeardNote, LiveReading, Take
from trainer.music.names import NoteNames, named
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.faces.held_tuning import CENTS_A_ROW, fine_mark
from trainer.screens.drawing.trail import FLAT, SHARP, aim_or_usual

ROWS = 7
"""From 15 cents sharp to as many flat."""
LEFT, PANEL_COLUMNS, GAP, RIGHT = 7, 16, 2, 2
"""Columns of the labels, of one note's panel, between two, and after the last at least."""
SOFT, LOUD = "soft", "loud"
LEAST_DB = 2.0
"""Where the level moved less, there is nothing to lay the pitch against (`coach.curves`)."""
MIDDLE_SHARE = (0.1, 0.9)
"""Of a note, its beginning and its end left out."""
Bend = dict[int, float]
"""Cents by column, from soft to loud."""


def bend_rows(
    round_: Round,
    take: Take,
    readings: Sequence[LiveReading],
    names: NoteNames,
    width: int,
    spoken_of: frozenset[int],
) -> tuple[Row, ...]:
    """A panel for each held note, as many as fit; none where no level moved.

    spoken_of: as `octaves.octave_rows` has it.
    """
    written = {note.index: note.pitch for note in round_.notes}
    panels = [
        (written[heard.index], bend, heard.index in spoken_of)
        for heard in take.expected_notes
        if heard.index is not None and (bend := _bend(heard, readings))
    ][: (width - LEFT - RIGHT + GAP) // (PANEL_COLUMNS + GAP)]
    if not panels:
        return ()
    canvas = Canvas(width, ROWS + 1)
    canvas.put(0, 0, SHARP, Ink.QUIET)
    canvas.put(0, ROWS - 1, FLAT, Ink.QUIET)
    aim = aim_or_usual(round_.aims.cents)
    for place, (pitch, bend, told) in enumerate(panels):
        left = LEFT + place * (PANEL_COLUMNS + GAP)
        canvas.put(left, ROWS // 2, "┄" * PANEL_COLUMNS, Ink.LINE)
        canvas.put(left + 1, 0, named(pitch, names), Ink.WORDS)
        canvas.put(left, ROWS, SOFT, Ink.QUIET)
        canvas.put(left + PANEL_COLUMNS - len(LOUD), ROWS, LOUD, Ink.QUIET)
        for column, cents in bend.items():
            row, mark = fine_mark(cents, ROWS // 2, CENTS_A_ROW)
            off = told and abs(cents) > aim
            canvas.put(left + column, row, mark, Ink.OFF if off else Ink.TRUE)
    return canvas.rows()


def _bend(heard: HeardNote, readings: Sequence[LiveReading]) -> Bend:
    """The mean pitch at each loudness of a note; empty where it hardly moved."""
    levels = list(_inside(heard, readings))
    if not levels:
        return {}
    softest, loudest = min(db for db, _ in levels), max(db for db, _ in levels)
    if loudest - softest < LEAST_DB:
        return {}
    columns: dict[int, list[float]] = defaultdict(list)
    for db, cents in levels:
        columns[int((db - softest) / (loudest - softest) * (PANEL_COLUMNS - 0.01))].append(cents)
    return {column: fmean(cents) for column, cents in sorted(columns.items())}


def _inside(heard: HeardNote, readings: Sequence[LiveReading]) -> Iterator[tuple[float, float]]:
    """Level and cents of the note's own readings."""
    if heard.onset_s is None or heard.end_s is None:
        return
    first, last = (heard.onset_s + share * (heard.end_s - heard.onset_s) for share in MIDDLE_SHARE)
    for reading in readings:
        within = reading.note_index == heard.index and first <= reading.time_s <= last
        if within and reading.cents is not None:
            yield reading.level_db, reading.cents
