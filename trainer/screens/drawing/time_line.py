"""Early and late, note by note: a line of beats, and beside each note where it really began."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from trainer.ear.heard import LiveNote, State, Take
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.systems import System

ON_THE_BEAT_MS = 30.0
"""Drawn as on the beat; common practice, no source."""
FAR_OFF_MS = 60.0
"""Drawn with two arrows; common practice, no source."""
EARLY, LATE, ON, MISSED, BEAT = "◀", "▶", "▪", "×", "╷"
LABEL = "time"


def timing_row(system: System, answers: Iterable[LiveNote], width: int) -> tuple[Row, ...]:
    """Beats to come as ticks; answered notes on, early (left of it), late (right) or missed; only
    those that stand out are inked as off."""
    canvas = Canvas(width, 1)
    canvas.put(0, 0, LABEL, Ink.QUIET)
    for beat in system.counted:
        canvas.put(system.column(beat) + 1, 0, BEAT, Ink.LINE)
    columns = {note.index: system.column(note.beat) for note in system.notes}
    for answer in answers:
        if answer.index in columns:
            _draw_answer(canvas, columns[answer.index], answer)
    return canvas.rows()


def _draw_answer(canvas: Canvas, x: int, answer: LiveNote) -> None:
    off, off_ink = answer.off_beat_ms, Ink.OFF if answer.stands_out else Ink.TRUE
    if answer.midi is None:
        canvas.put(x + 1, 0, MISSED, Ink.CARE)
    elif off is None:
        return
    elif abs(off) <= ON_THE_BEAT_MS:
        canvas.put(x + 1, 0, ON, Ink.TRUE)
    else:
        arrows = 1 + (abs(off) > FAR_OFF_MS)
        if off < 0:
            canvas.put(x + 1 - arrows, 0, EARLY * arrows, off_ink)
        else:
            canvas.put(x + 2, 0, LATE * arrows, off_ink)


def take_answers(
    take: Take, off_beat_ms: Sequence[float | None], system: System, spoken_of: frozenset[int]
) -> list[LiveNote]:
    """The take's notes as answers, silent ones as missed; unjudged ones are left out.

    off_beat_ms: each note of the round as `View.off_beat_ms` has it. spoken_of: notes that
    something was said of, by index; these stand out.
    """
    heard_notes = {heard.index: heard for heard in take.expected_notes}
    answers = []
    for note in system.notes:
        heard = heard_notes.get(note.index)
        if heard is None or heard.state is State.NOT_JUDGED:
            continue
        midi = None if heard.state is State.MISSED else float(note.pitch.midi)
        off_ms, told = off_beat_ms[note.index], note.index in spoken_of
        answers.append(LiveNote(note.index, midi, heard.cents, off_ms, told))
    return answers
