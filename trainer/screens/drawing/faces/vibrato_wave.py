"""Vibrato: the wave of pitch and of loudness against the pulses asked for."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from statistics import fmean

from trainer.ear.heard import LiveReading
from trainer.music.note import Note
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.faces.heard_so_far import HeardSoFar, note_at
from trainer.screens.drawing.faces.held_tuning import odd

WINDOW_BEATS = 2
"""Shown at a time while it sounds, across the whole width."""
LEFT = 8
"""Columns of the labels."""
PITCH, LOUD = "pitch", "loud"
CENTS_A_DOT = 2.5
DB_A_DOT = 1.0
"""Of half a row: so much pitch, so much level."""
LOUD_ROWS = 3
"""Of the wave of loudness."""
ASKED_DOTS = 4
"""Height of the asked wave above and below its middle."""
PULSE, BEAT = "╷", "│"
Wave = Sequence[tuple[float, float]]
"""Place from 0 to 1 across the width, and height in half rows, from left to right."""


def pulse_rows(round_: Round, heard: HeardSoFar, width: int, height: int) -> tuple[Row, ...]:
    """Two beats of the held note, begun anew as they pass: follow the faint wave."""
    canvas = Canvas(width, height)
    note = note_at(round_, heard.beat)
    if note is None or round_.manner.vibrato is None:
        return canvas.rows()
    begin = _window(note, heard.beat)
    readings = [] if heard.first_beat_s is None else list(_of_note(round_, note, heard))
    placed = [
        ((beat - begin) / WINDOW_BEATS, reading)
        for beat, reading in readings
        if begin <= beat < begin + WINDOW_BEATS
    ]
    beats = min(float(WINDOW_BEATS), float(note.beat + note.length) - begin)
    draw_waves(canvas, 0, placed, beats / WINDOW_BEATS, beats * round_.manner.vibrato.per_beat)
    return canvas.rows()


def _window(note: Note, beat: float) -> float:
    """The beat at which what is shown begins."""
    into = max(0.0, beat - float(note.beat))
    return float(note.beat) + WINDOW_BEATS * (into // WINDOW_BEATS)


def _of_note(round_: Round, note: Note, heard: HeardSoFar) -> Iterable[tuple[float, LiveReading]]:
    """The newest readings of a note with the beats they fall on."""
    assert heard.first_beat_s is not None
    for reading in heard.newest:
        if reading.note_index == note.index and reading.cents is not None:
            yield round_.pace.beat_at(reading.time_s - heard.first_beat_s), reading


def draw_waves(
    canvas: Canvas,
    top: int,
    placed: Sequence[tuple[float, LiveReading]],
    share: float,
    pulses: float,
) -> None:
    """Pitch, the pulses asked for as ticks, loudness where there is room.

    placed: readings by their place from 0 to 1; share: how much of the width the note takes, which
    holds so many pulses.
    """
    room = canvas.height - top
    loud = LOUD_ROWS if room >= LOUD_ROWS + 5 else 0
    rows = odd(room - loud - 1)
    _draw_asked(canvas, top, rows, share, pulses)
    canvas.put(0, top + rows // 2, PITCH, Ink.QUIET)
    cents = [(place, one.cents) for place, one in placed if one.cents is not None]
    _draw_wave(canvas, top, rows, _about_its_mean(cents, CENTS_A_DOT))
    if loud:
        levels = [(place, one.level_db) for place, one in placed]
        canvas.put(0, top + rows + 1 + loud // 2, LOUD, Ink.QUIET)
        _draw_wave(canvas, top + rows + 1, loud, _about_its_mean(levels, DB_A_DOT))


def _about_its_mean(values: Sequence[tuple[float, float]], a_dot: float) -> Wave:
    if not values:
        return ()
    middle = fmean(value for _, value in values)
    return [(place, (value - middle) / a_dot) for place, value in values]


def _draw_asked(canvas: Canvas, top: int, rows: int, share: float, pulses: float) -> None:
    """A faint wave whose crests stand over the ticks."""
    columns = 2 * round((canvas.width - LEFT) * share)
    if columns < 2 or pulses <= 0:
        return
    high = min(ASKED_DOTS, rows - 1)
    wave = [
        (x / (2 * (canvas.width - LEFT)), high * math.cos(2 * math.pi * pulses * x / columns))
        for x in range(columns)
    ]
    _draw_wave(canvas, top, rows, wave, Ink.LINE)
    for pulse in range(math.ceil(pulses)):
        x = LEFT + round(pulse / pulses * columns / 2)
        canvas.put(x, top + rows, PULSE, Ink.SIGN)


def _draw_wave(canvas: Canvas, top: int, rows: int, wave: Wave, ink: Ink = Ink.TRUE) -> None:
    """A line through the places; what goes beyond the rows stays at their edge."""
    before: tuple[int, int] | None = None
    for place, height in wave:
        x = 2 * LEFT + int(place * 2 * (canvas.width - LEFT))
        y = 2 * top + min(2 * rows - 1, max(0, round(rows - 0.5 - height)))
        from_y = y if before is None or x - before[0] > 2 else before[1]
        for between in range(min(from_y, y) + (from_y < y), max(from_y, y) + (from_y <= y)):
            canvas.dot(x, between, ink)
        canvas.dot(x, y, ink)
        before = x, y
