"""One thing of a round as large as the window, for a stand that is far away."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum

from trainer.music.names import NoteNames, Octaves, named
from trainer.music.note import Note
from trainer.music.pitch import Pitch
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.large_figures import filling_rows
from trainer.session.view import Stage, View


class LargeThing(StrEnum):
    """What may stand alone on the screen while a round is ready or sounds."""

    NOTE = "note"
    """The note now due."""
    TEMPO = "tempo"
    TIME = "time"
    """What is left of the round."""


def turned_to(shown: LargeThing | None, step: int) -> LargeThing | None:
    """The next one, the one before; between the last and the first stands the music (None)."""
    all_of_them: tuple[LargeThing | None, ...] = (None, *LargeThing)
    return all_of_them[(all_of_them.index(shown) + step) % len(all_of_them)]


def large_thing_rows(
    thing: LargeThing, view: View, names: NoteNames, width: int, height: int
) -> tuple[Row, ...]:
    """The beat counted in, then the thing itself; nothing while a take is worked through."""
    round_ = view.round
    if round_ is None or view.stage is Stage.WEIGHING:
        return Canvas(width, height).rows()
    if view.stage is Stage.COUNT_IN and view.beat is not None and view.beat < 0:
        count = int(view.beat + round_.count_in_beats) + 1
        return filling_rows(str(max(1, count)), Ink.QUIET, width, height)
    match thing:
        case LargeThing.NOTE:
            note = _note(round_, view.note_due)
            ink = Ink.QUIET if note in round_.partner_notes else Ink.WORDS
            return filling_rows(large_name(note.pitch, names), ink, width, height)
        case LargeThing.TEMPO:
            bpm = round_.pace.bpm_at(view.beat or 0.0)
            return filling_rows(f"{bpm:.0f}", Ink.WORDS, width, height)
        case LargeThing.TIME:
            return filling_rows(_time_left(round_, view.beat), Ink.WORDS, width, height)


def large_name(pitch: Pitch, names: NoteNames) -> str:
    """A note's name in its shortest form: 'F#5', 'Fis5', 'fa#5'."""
    if names.octaves is Octaves.FLUTE:
        names = replace(names, octaves=Octaves.NUMBERS)
    return named(pitch, names)


def _note(round_: Round, due: int | None) -> Note:
    return next((note for note in round_.printed if note.index == due), round_.printed[0])


def _time_left(round_: Round, beat: float | None) -> str:
    """'0:42'; untimed rounds have no end to wait for."""
    if not round_.in_time:
        return "-"
    seconds = max(0.0, round_.seconds - round_.pace.seconds_at(beat or 0.0))
    return f"{int(seconds) // 60}:{int(seconds) % 60:02}"
