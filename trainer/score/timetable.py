"""A routine on one day as a timetable, with the notes of each exercise in line notation."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from typing import Any

from trainer.music.instrument import Instrument
from trainer.music.note import Mark, Note, Start
from trainer.music.ornaments import neighbours_of
from trainer.routine.model import WrittenNote
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round
from trainer.score.line_notation import line_notation
from trainer.score.sections import sections

FILLED = "  It ends inside a beat: the rest of that beat is silent."
_JOINED = (Start.SLURRED, Start.LEGATO_TONGUE)


@dataclass(frozen=True)
class Slot:
    """One entry of the day in its place."""

    start_min: float
    """Minutes from the beginning."""
    exercise: PlannedExercise

    @property
    def key(self) -> str | None:
        """The key of its music, where it has one."""
        rounds = self.exercise.rounds
        return rounds[0].key.name if rounds and rounds[0].key is not None else None

    @property
    def tempo(self) -> str:
        """'60', '60 to 120'; empty for a rest."""
        if self.exercise.climb is not None:
            return f"{self.exercise.climb.from_bpm:g} to {self.exercise.climb.to_bpm:g}"
        return ", ".join(dict.fromkeys(f"{one.tempo_bpm:g}" for one in self.exercise.rounds))

    @property
    def rounds(self) -> str:
        """'6 rounds'; empty for a rest and for a climb, which makes its own."""
        count = len(self.exercise.rounds)
        if self.exercise.climb is not None or not count:
            return ""
        return f"{count} round{'s' * (count > 1)}"


def timetable(planned: Sequence[PlannedExercise]) -> tuple[Slot, ...]:
    """The day's entries with the minute each begins."""
    starts = accumulate((exercise.minutes for exercise in planned), initial=0.0)
    return tuple(Slot(start, exercise) for start, exercise in zip(starts, planned, strict=False))


def notes_in_lines(round_: Round) -> str:
    """The round in line notation; where that has no words for its lengths, its notes in order."""
    beat = round_.beat_quarters
    signature = round_.key.signature if round_.key is not None else 0
    written = [_written(note, beat, signature) for note in round_.notes]
    try:
        bar = round_.beats_per_bar * beat
        end, upbeat = round_.ends_on_beat * beat, round_.upbeat_beats * beat
        return line_notation(written, bar, beat, end, upbeat)
    except ValueError:
        names = " ".join(str(note.pitch) for note in round_.notes)
        return "\n".join(textwrap.wrap(f"in order: {names}", 76))


def _written(note: Note, beat: Fraction, signature: int) -> WrittenNote:
    above = note.neighbours[0] if note.neighbours else None
    plain = neighbours_of(note.pitch, signature, None)[0]
    joined = note.index > 0 and note.start in _JOINED
    soft = note.start is Start.LEGATO_TONGUE and note.mark is None
    return WrittenNote(
        note.pitch,
        note.beat * beat,
        note.length * beat,
        joined,
        note.breath_after,
        note.dynamic,
        note.hairpin,
        Mark.TENUTO if soft else note.mark,
        note.graces,
        note.ornament,
        above.alter if above is not None and above != plain else None,
        note.fermata,
        note.stop_after,
    )


def timetable_text(head: str, slots: Sequence[Slot]) -> str:
    """The timetable, and below it the notes of each exercise."""
    rows = [_row(slot) for slot in slots]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = [head, ""]
    lines += ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
              for row in rows]  # fmt: skip
    for section in sections([slot.exercise for slot in slots]):
        lines += ["", section.title, textwrap.indent(notes_in_lines(section.round), "  ")]
        if section.round.music_beats < section.round.beats:
            lines.append(FILLED)
    return "\n".join(lines)


def _row(slot: Slot) -> tuple[str, ...]:
    exercise = slot.exercise
    whole, part = divmod(round(slot.start_min * 60), 60)
    length = max(1, round(exercise.minutes))
    tempo = f"at {slot.tempo}" if slot.tempo else exercise.detail
    if slot.key is not None and slot.key.lower() not in exercise.title.lower():
        tempo = f"{tempo}, {slot.key}"
    return (f"{whole:3d}:{part:02d}", f"{length:2d} min", exercise.title, tempo, slot.rounds)


def timetable_json(slots: Sequence[Slot], instrument: Instrument) -> list[dict[str, Any]]:
    """The same for a program: every entry, and the music of its rounds where it differs."""
    return [
        {
            "start_min": round(slot.start_min, 2),
            "minutes": round(slot.exercise.minutes, 2),
            "id": slot.exercise.id,
            "title": slot.exercise.title,
            "key": slot.key,
            "tempo": slot.tempo or None,
            "rounds": [str(round_.articulation) for round_ in slot.exercise.rounds],
            "detail": slot.exercise.detail,
            "words": slot.exercise.words,
            "music": list(_music(slot.exercise, instrument)),
        }
        for slot in slots
    ]


def _music(exercise: PlannedExercise, instrument: Instrument) -> Iterator[dict[str, Any]]:
    for section in sections([exercise]):
        yield {
            "round": section.round.number,
            "notes": notes_in_lines(section.round),
            "written": [str(note.pitch) for note in section.round.notes],
            "sounding_midi": [instrument.sounding(n.pitch).midi for n in section.round.notes],
        }
