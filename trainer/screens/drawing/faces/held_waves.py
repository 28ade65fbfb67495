"""After a vibrato: each held note's wave over the pulses asked for, and how many were heard."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trainer.ear.heard import LiveReading
from trainer.music.names import NoteNames, named
from trainer.music.note import Note
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.faces.heard_so_far import is_held
from trainer.screens.drawing.faces.vibrato_wave import draw_waves

BEATS_SHOWN = 4
"""The middle of each note; more would be too fine for cells."""
ROWS = 6
"""Of a wave of pitch and its ticks."""


def wave_rows(
    round_: Round,
    readings: Sequence[LiveReading],
    first_beat_s: float,
    per_beat: Mapping[int, float],
    names: NoteNames,
    width: int,
    height: int,
) -> tuple[Row, ...]:
    """A wave for each held note whose pulses were measured, as many as fit."""
    rows: list[Row] = []
    for note in round_.notes:
        if is_held(note) and note.index in per_beat and len(rows) + ROWS + 1 <= height:
            rows += _note_rows(
                round_, note, readings, first_beat_s, per_beat[note.index], names, width
            )
    return tuple(rows)


def _note_rows(
    round_: Round,
    note: Note,
    readings: Sequence[LiveReading],
    first_beat_s: float,
    per_beat: float,
    names: NoteNames,
    width: int,
) -> tuple[Row, ...]:
    assert round_.manner.vibrato is not None
    beats = min(BEATS_SHOWN, int(note.length))
    begin = int(note.beat) + max(0, (int(note.length) - beats) // 2)
    placed = [
        ((beat - begin) / beats, reading)
        for reading in readings
        if reading.note_index == note.index and reading.cents is not None
        for beat in [round_.pace.beat_at(reading.time_s - first_beat_s)]
        if begin <= beat < begin + beats
    ]
    asked = round_.manner.vibrato.per_beat
    canvas = Canvas(width, ROWS + 1)
    head = f"{named(note.pitch, names)}   asked {asked} a beat   heard {_number(per_beat)}"
    canvas.put(0, 0, head, Ink.WORDS)
    draw_waves(canvas, 1, placed, 1.0, beats * asked)
    return canvas.rows()


def _number(per_beat: float) -> str:
    return f"{per_beat:.1f}".removesuffix(".0")
