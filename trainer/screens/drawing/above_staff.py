"""What stands above the staff and below it: slurs and other starts, breaths, marks, levels."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import zip_longest

from trainer.music.note import Hairpin, Mark, Note, Ornament, Start
from trainer.routine.round import Swell
from trainer.screens.drawing import octave_sign
from trainer.screens.drawing.canvas import Ink
from trainer.screens.drawing.staff_items import Bow, Placed, StaffSign, Wedge, Words
from trainer.screens.drawing.staff_rows import Frame, Sheet
from trainer.screens.drawing.systems import System

STARTS = {
    Start.BREATH: "h",
    Start.SILENT_AIR: "h",
    Start.BACK_TONGUED: "K",
}
MARKS = {
    Mark.STACCATO: StaffSign.STACCATO,
    Mark.TENUTO: StaffSign.TENUTO,
    Mark.ACCENT: StaffSign.ACCENT,
}
ORNAMENTS = {
    Ornament.TRILL: StaffSign.TRILL,
    Ornament.TURN: StaffSign.TURN,
    Ornament.INVERTED_TURN: StaffSign.INVERTED_TURN,
    Ornament.MORDENT: StaffSign.MORDENT,
    Ornament.INVERTED_MORDENT: StaffSign.INVERTED_MORDENT,
}
GRACES = "gr"
OTHERS_TURN = "partner"


def _with_next(notes: tuple[Note, ...]) -> list[tuple[Note, Note | None]]:
    return [(note, after) for note, after in zip_longest(notes, notes[1:]) if note is not None]


def starts(frame: Frame, system: System, sheet: Sheet) -> Iterator[Words]:
    """A letter over each note that begins in its own way."""
    letters = STARTS | ({Start.TONGUED: "T"} if sheet.doubled else {})
    own = True
    for note in system.notes:
        said = OTHERS_TURN if note.index in sheet.others else letters.get(note.start)
        if own and said:
            yield Words(said, _head_x(frame, system, note), frame.starts_y)
        own = note.index not in sheet.others


def soft_tongues(frame: Frame, system: System, sheet: Sheet) -> Iterator[Placed]:
    """A stroke over each note of the student's own that a soft tongue begins."""
    for note in system.notes:
        if note.start is Start.LEGATO_TONGUE and note.index not in sheet.others:
            yield Placed(StaffSign.TENUTO, _head_x(frame, system, note), frame.starts_y, Ink.SIGN)


def slurs(frame: Frame, system: System, sheet: Sheet) -> Iterator[Bow]:
    """One from the first to the last note of each slurred group."""
    first: float | None = system.left / frame.scale.columns_a_space
    for note, after in _with_next(system.notes):
        x = _head_x(frame, system, note)
        slurred_from = note.index in sheet.slurred
        slurs_on = note.index + 1 in sheet.slurred and note.index not in sheet.others
        if not slurred_from:
            first = x
        if slurs_on and after is not None:
            continue
        begins_before = slurred_from and first == system.left / frame.scale.columns_a_space
        if slurs_on:
            end = system.right / frame.scale.columns_a_space
            yield Bow(first or x, end, frame.starts_y, begins_before, leads_on=True)
        elif slurred_from:
            yield Bow(first or x, x, frame.starts_y, begins_before)


def harmonics(frame: Frame, system: System) -> Iterator[Placed]:
    """A small circle over each note to be played on a lower note's fingering."""
    for note in system.notes:
        if note.harmonic_of is not None:
            column = 1 / frame.scale.columns_a_space
            x = _head_x(frame, system, note) + column
            yield Placed(StaffSign.HARMONIC, x, frame.starts_y, Ink.NOTE)


def breaths(frame: Frame, system: System) -> Iterator[Placed]:
    """Behind each note after which a breath may be taken."""
    for note, after in _with_next(system.notes):
        if note.breath_after:
            column = system.right if after is None else system.column(after.beat)
            x = (column - 1) / frame.scale.columns_a_space
            sign = StaffSign.CAESURA if note.stop_after else StaffSign.BREATH
            yield Placed(sign, x, frame.starts_y, Ink.NOTE)


def marks(frame: Frame, system: System) -> Iterator[Placed]:
    """Dots, strokes, accents, ornaments and fermatas over their notes."""
    for note in system.notes:
        if note.mark is None and note.ornament is None and not note.fermata:
            continue
        x = _head_x(frame, system, note)
        if note.mark is not None:
            yield Placed(MARKS[note.mark], x, frame.marks_y, Ink.NOTE)
        if note.ornament is not None or note.fermata:
            sign = StaffSign.FERMATA if note.fermata else ORNAMENTS[note.ornament]  # type: ignore[index]
            beside = x + (1 / frame.scale.columns_a_space if note.mark else 0)
            yield Placed(sign, beside, frame.marks_y, Ink.NOTE)


def graces(frame: Frame, system: System) -> Iterator[Words]:
    """Before each note that has grace notes."""
    for note in system.notes:
        if note.graces:
            x = (system.column(note.beat) - 1) / frame.scale.columns_a_space
            yield Words(GRACES, x, frame.marks_y, Ink.NOTE)


def levels(frame: Frame, system: System, sheet: Sheet) -> Iterator[Words]:
    """Dynamics, and the tempo where another one begins, under their notes."""
    for note in system.notes:
        said = (note.dynamic.value if note.dynamic else "", sheet.tempos.get(note.index, ""))
        if any(said):
            words = " ".join(word for word in said if word)
            yield Words(words, _head_x(frame, system, note), frame.level_y, Ink.NOTE)


def hairpins(frame: Frame, system: System) -> Iterator[Wedge]:
    """From their note to the next dynamic or hairpin, or to the end of the system's last note."""
    column = frame.scale.columns_a_space
    for place, note in enumerate(system.notes):
        if note.hairpin is None:
            continue
        later = [one for one in system.notes[place + 1 :] if one.dynamic or one.hairpin]
        begin = system.column(note.beat) + 1 + (len(note.dynamic.value) + 1 if note.dynamic else 0)
        end = system.column(later[0].beat) if later else system.right - 1
        louder = note.hairpin is Hairpin.LOUDER
        if end > begin + 1:
            yield Wedge(begin / column, end / column, frame.level_y, louder)


def swells(frame: Frame, system: System, sheet: Sheet) -> Iterator[Wedge]:
    """Under each note as far as it sounds in this system: its hairpin, or two that meet."""
    if sheet.swell is None:
        return
    column = frame.scale.columns_a_space
    for note in system.sounding:
        end = note.beat + note.length
        for begin, until, louder in _wedges(sheet.swell, note.beat, end):
            x = system.column(max(begin, system.start)) + 1
            last = system.column(min(until, system.end)) - 1
            if last > x + 1:
                yield Wedge(x / column, last / column, frame.level_y, louder)


def _wedges(
    swell: Swell, beat: Fraction, end: Fraction
) -> tuple[tuple[Fraction, Fraction, bool], ...]:
    """From, to, and whether it grows."""
    if swell is Swell.THERE_AND_BACK:
        middle = (beat + end) / 2
        return (beat, middle, True), (middle, end, False)
    return ((beat, end, swell is Swell.LOUDER),)


def octave_signs(frame: Frame, system: System, sheet: Sheet) -> Iterator[Words]:
    """Over each run of notes that are written an octave lower."""
    for first, last in octave_sign.spans(system.notes, sheet.lowered):
        x = _head_x(frame, system, first)
        end = _head_x(frame, system, last) + 1
        yield Words(
            octave_sign.LABEL, x, frame.y_of_row(frame.scale.marker_rows), dashed_to=max(end, x + 2)
        )


def _head_x(frame: Frame, system: System, note: Note) -> float:
    return (system.column(note.beat) + 1) / frame.scale.columns_a_space
