"""A routine on one day as a timetable: what each round asks for, and the notes in line notation."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, groupby
from typing import Any

from trainer.music.instrument import Instrument
from trainer.music.note import Mark, Note, Start
from trainer.music.ornaments import neighbours_of
from trainer.music.scales import ScaleKind
from trainer.routine.model import WrittenNote
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round
from trainer.routine.second_part import as_round
from trainer.routine.titles import duration_in_words
from trainer.score.asked import (
    AS_WRITTEN,
    aims_of,
    click_of,
    flowing,
    manner_of,
    part_of,
    partner_of,
    tempo_of,
    whole_minutes,
    written_out,
)
from trainer.score.line_notation import line_notation
from trainer.score.sections import PARTNER, sections
from trainer.score.strokes import names_row, strokes_row

FILLED = "  It ends inside a beat: the rest of that beat is silent."
WIDTH = 78
"""Columns of what is said."""
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
        rounds = self.exercise.rounds
        if any(round_.tempo_changes for round_ in rounds):
            return f"{rounds[-1].tempo_bpm:g}, changing"
        return ", ".join(dict.fromkeys(map(tempo_of, rounds)))

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
    written = [_written(note, beat, round_) for note in round_.notes]
    try:
        end, upbeat = round_.ends_on_beat * beat, round_.upbeat_beats * beat
        return line_notation(written, round_.bars.quarters(), end, upbeat)
    except ValueError:
        names = " ".join(str(note.pitch) for note in round_.notes)
        return "\n".join(textwrap.wrap(f"in order: {names}", 76))


def _written(note: Note, beat: Fraction, round_: Round) -> WrittenNote:
    above = note.neighbours[0] if note.neighbours else None
    key = round_.bars.at(note.beat).key
    plain = neighbours_of(note.pitch, key.signature if key else 0, None)[0]
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
        round(round_.tempo_bpm * note.tempo_share, 3) if note.tempo_share != 1 else None,
    )


def timetable_text(head: str, slots: Sequence[Slot]) -> str:
    """The timetable, and below it what each exercise asks for, round by round, and its notes."""
    rows = [_row(slot) for slot in slots]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = [head, ""]
    lines += ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
              for row in rows]  # fmt: skip
    for slot in slots:
        if slot.exercise.rounds or slot.exercise.words:
            lines += ["", *_told(slot.exercise)]
    return "\n".join(lines)


def _row(slot: Slot) -> tuple[str, ...]:
    exercise = slot.exercise
    whole, part = divmod(round(slot.start_min * 60), 60)
    length = whole_minutes(exercise.minutes)
    tempo = f"at {slot.tempo}" if slot.tempo else exercise.detail
    title = exercise.title.lower()
    if slot.key is not None and not any(one in title for one in (slot.key.lower(), *ScaleKind)):
        tempo = f"{tempo}, {slot.key}"
    return (f"{whole:3d}:{part:02d}", f"{length:2d} min", exercise.title, tempo, slot.rounds)


def _told(exercise: PlannedExercise) -> Iterator[str]:
    """One entry: what is asked, the teacher's words, each round, and the notes."""
    yield exercise.title
    yield from _filled(exercise.words, "  ")
    if not exercise.rounds:
        return
    yield from _filled(" · ".join(beside(exercise)), "  ")
    yield from _rounds_told(exercise)
    for section in sections([exercise]):
        first = section.round is exercise.rounds[0]
        yield "" if first else f"  In round {section.round.number}:"
        yield textwrap.indent(notes_in_lines(section.round), "  ")
        if section.round.second_part:
            yield f"  {PARTNER}:"
            yield textwrap.indent(notes_in_lines(as_round(section.round)), "  ")
        if section.round.music_beats < section.round.beats:
            yield FILLED


def _filled(words: str, before: str) -> Iterator[str]:
    for line in flowing(words):
        yield from textwrap.wrap(line, WIDTH, initial_indent=before, subsequent_indent=before)


def beside(exercise: PlannedExercise) -> Iterator[str]:
    """What holds for all rounds: partner, click, aims, how long, and the rest after them."""
    first = exercise.rounds[0]
    if exercise.climb is not None:
        climb = exercise.climb
        way = "and" if climb.in_turns else "towards"
        within = duration_in_words(60 * climb.minutes)
        yield f"from {climb.from_bpm:g} {way} {climb.to_bpm:g}, within {within}"
    if partner_of(first):
        yield partner_of(first)
    yield from click_of(first.click)
    if exercise.until is not None:
        yield str(exercise.until)
    yield from aims_of(first.aims)
    if exercise.rest_s:
        yield f"then rest, {duration_in_words(exercise.rest_s)}"


def round_in_words(round_: Round, exercise: PlannedExercise) -> str:
    """'slur 2 tongue 2, pp, last 2 bars, at 72'."""
    how = [] if written_out(exercise) else [str(round_.articulation)]
    parts = [*how, *manner_of(round_), part_of(round_, exercise)]
    said = ", ".join(part for part in parts if part) or AS_WRITTEN
    return f"{said}, at {tempo_of(round_)}" if round_.in_time else said


def _rounds_told(exercise: PlannedExercise) -> Iterator[str]:
    """Each round in words, and how its first notes begin under their names; equal ones as one."""
    names = ""
    for (words, drawn), alike in groupby(
        exercise.rounds,
        lambda one: (round_in_words(one, exercise), (names_row(one), strokes_row(one))),
    ):
        numbers = [round_.number for round_ in alike]
        yield textwrap.fill(
            f"{_spanned(numbers)}  {words}", WIDTH, initial_indent="  ", subsequent_indent="     "
        )
        if written_out(exercise):
            continue
        if drawn[0] != names:
            names = drawn[0]
            yield f"     {names}"
        yield f"     {drawn[1]}"


def _spanned(numbers: Sequence[int]) -> str:
    if len(numbers) <= 2:
        return " and ".join(map(str, numbers))
    return f"{numbers[0]} to {numbers[-1]}"


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
            "asked": [round_in_words(round_, slot.exercise) for round_ in slot.exercise.rounds],
            "beside": list(beside(slot.exercise)) if slot.exercise.rounds else [],
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
            "partner": [str(note.pitch) for note in section.round.second_part],
        }
