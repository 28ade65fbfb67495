"""What was heard, written on the music: every system where they fit, else where care is needed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.ear.heard import State, Take
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.round_layout import ROOMY_TRAIL, STAND_WIDTH
from trainer.screens.drawing.scale import CLOSE, CLOSE_WITH_SIGNS, COMPACT, STAND, StaffScale
from trainer.screens.drawing.staff import staff_rows
from trainer.screens.drawing.staff_rows import Sheet, frame, sheet
from trainer.screens.drawing.systems import System, systems
from trainer.screens.drawing.time_line import take_answers, timing_row
from trainer.screens.drawing.trail import mean_trail, note_columns, take_trail, trail_rows

CARE_SIGN = "△"
UNSURE_SIGN = "?"
UNSURE_LABEL = "start"
UNSURE_LEGEND = f"({UNSURE_SIGN} not clear enough)"
"""Behind the signs, where there is room."""
LEGEND_GAP = 3
"""Columns before it."""
TRAILS = (ROOMY_TRAIL, 1, 0)
"""Rows of the trail under each system, the roomiest that shows them all; none only where beneath it
each note's time says what was heard."""


@dataclass(frozen=True)
class Written:
    """A round with what was heard of it."""

    round: Round
    take: Take | None
    off_beat_ms: Sequence[float | None]
    """As `View.off_beat_ms`, with a place for each note wherever there is a take."""
    care: frozenset[int]
    """Notes that need care."""
    unsure: frozenset[int]
    """Notes whose start was not judged."""
    last_note_cents: Sequence[float | None] = ()
    """As `View.last_note_cents`, where that is to be shown."""


def written_rows(written: Written, width: int, height: int) -> tuple[Row, ...]:
    """Every system in order, each with its trail and timing beneath it, in large notes where they
    all fit; where they don't, those that need care most."""
    music = sheet(written.round)
    trails = TRAILS if _tells_time(written) else TRAILS[:-1]
    small = CLOSE_WITH_SIGNS if music.signs else CLOSE
    sizes = ((STAND, STAND), (small, COMPACT)) if width >= STAND_WIDTH else ((small, COMPACT),)
    for spacing, scale in sizes:
        lines = systems(written.round, width, spacing)
        for trail in trails:
            blocks = [_block(written, system, music, width, trail, scale) for system in lines]
            if sum(map(len, blocks)) <= height:
                return tuple(row for block in blocks for row in block)
    for trail in TRAILS:
        blocks = [_block(written, system, music, width, trail, COMPACT) for system in lines]
        chosen = _fitting(blocks, _by_need(lines, written.care), height)
        if chosen:
            return tuple(row for place in sorted(chosen) for row in blocks[place])
    return ()


def _fitting(blocks: Sequence[tuple[Row, ...]], places: Sequence[int], height: int) -> list[int]:
    """The first of the places whose blocks find room together."""
    chosen: list[int] = []
    for place in places:
        if len(blocks[place]) > height:
            break
        chosen.append(place)
        height -= len(blocks[place])
    return chosen


def _by_need(lines: Sequence[System], care: frozenset[int]) -> list[int]:
    def need(place: int) -> int:
        return -sum(note.index in care for note in lines[place].notes)

    return sorted(range(len(lines)), key=need)


def _block(
    written: Written, system: System, music: Sheet, width: int, trail: int, scale: StaffScale
) -> tuple[Row, ...]:
    """A system with what was heard beneath."""
    staff = staff_rows(system, music, frame(system.sounding, music, scale), width, written.care)
    signs = _sign_row(system, written.care, written.unsure, width)
    if written.take is None:
        return (*staff, *signs)
    line = take_trail(system, written.take)
    before = mean_trail(system, dict(enumerate(written.last_note_cents)))
    aim, told = written.round.aims.cents, note_columns(system, written.care)
    return (
        *staff,
        *signs,
        *(trail_rows(system, line, trail, width, aim, told, before) if trail else ()),
        *(_timing_row(written, system, written.take, width) if _tells_time(written) else ()),
    )


def _tells_time(written: Written) -> bool:
    """Some note's time was judged, or one is missed: else the row would hold beats alone."""
    missed = written.take is not None and any(
        heard.state is State.MISSED for heard in written.take.expected_notes
    )
    return written.round.in_time and (missed or any(off is not None for off in written.off_beat_ms))


def _timing_row(written: Written, system: System, take: Take, width: int) -> tuple[Row, ...]:
    answers = take_answers(take, written.off_beat_ms, system, written.care)
    return timing_row(system, answers, width)


def _sign_row(
    system: System, care: frozenset[int], unsure: frozenset[int], width: int
) -> tuple[Row, ...]:
    """A sign under each note that needs care, so that colour never says it alone, and under each
    whose start was not judged."""
    marked = [note for note in system.notes if note.index in care | unsure]
    if not marked:
        return ()
    canvas = Canvas(width, 1)
    if any(note.index in unsure for note in marked):
        canvas.put(0, 0, UNSURE_LABEL, Ink.QUIET)
        legend_at = max(system.column(note.beat) for note in marked) + LEGEND_GAP + 1
        if legend_at + len(UNSURE_LEGEND) <= width:
            canvas.put(legend_at, 0, UNSURE_LEGEND, Ink.QUIET)
    for note in marked:
        left = system.column(note.beat) + 1
        if note.index in unsure:
            canvas.put(left + (note.index in care), 0, UNSURE_SIGN, Ink.QUIET)
        if note.index in care:
            canvas.put(left, 0, CARE_SIGN, Ink.CARE)
    return canvas.rows()
