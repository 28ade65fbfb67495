"""What was heard, written on the music: the systems with notes that need care come first."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.ear.heard import Take
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.round_layout import ROOMY_TRAIL, TIMING_ROWS, RoundLayout, score
from trainer.screens.drawing.systems import System
from trainer.screens.drawing.time_line import take_answers, timing_row
from trainer.screens.drawing.trail import take_trail, trail_rows

CARE_SIGN = "△"
UNSURE_SIGN = "?"
UNSURE_LABEL = "start"
UNSURE_LEGEND = f"{UNSURE_SIGN} start not clear enough to judge"


def written_rows(
    round_: Round,
    take: Take | None,
    off_beat_ms: Sequence[float | None],
    care: frozenset[int],
    unsure: frozenset[int],
    width: int,
    height: int,
) -> tuple[Row, ...]:
    """As many systems as fit, in order, each with its trail and timing beneath it.

    off_beat_ms: as `View.off_beat_ms`, with a place for each note wherever there is a take.
    unsure: notes whose start was not judged.
    """
    layout = score(round_, width, height)
    blocks = {
        place: _block(layout, place, round_, take, off_beat_ms, care, unsure, height)
        for place in _by_need(layout, care)
    }
    chosen: list[int] = []
    room = height
    for place, block in blocks.items():
        if chosen and len(block) > room:
            break
        chosen.append(place)
        room -= len(block)
    return tuple(row for place in sorted(chosen) for row in blocks[place])[:height]


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
    for note in marked:
        left = system.column(note.beat) + 1
        if note.index in unsure:
            canvas.put(left + (note.index in care), 0, UNSURE_SIGN, Ink.QUIET)
        if note.index in care:
            canvas.put(left, 0, CARE_SIGN, Ink.CARE)
    return canvas.rows()


def _by_need(layout: RoundLayout, care: frozenset[int]) -> list[int]:
    def need(place: int) -> int:
        return -sum(note.index in care for note in layout.systems[place].notes)

    return sorted(range(len(layout.systems)), key=need)


def _block(
    layout: RoundLayout,
    place: int,
    round_: Round,
    take: Take | None,
    off_beat_ms: Sequence[float | None],
    care: frozenset[int],
    unsure: frozenset[int],
    height: int,
) -> tuple[Row, ...]:
    """A system with what was heard beneath; where room is short, the trail is the first to give."""
    system = layout.systems[place]
    staff = (*layout.staff(place, care), *_sign_row(system, care, unsure, layout.width))
    if take is None:
        return staff
    trail = take_trail(system, take)
    answers = take_answers(take, off_beat_ms, system) if round_.in_time else []
    roomy = len(staff) + ROOMY_TRAIL + TIMING_ROWS <= height
    return (
        *staff,
        *trail_rows(
            system, trail, ROOMY_TRAIL if roomy else 1, layout.width, round_.aims.cents, care
        ),
        *timing_row(system, answers, layout.width, care),
    )
