"""Stems, beams and flags, and the figures of tuplets."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from trainer.screens.drawing.canvas import Canvas, Ink
from trainer.screens.drawing.note_values import WHOLE_NOTE, WrittenPart
from trainer.screens.drawing.staff_rows import BOTTOM_LINE, TOP_LINE, Frame, written_step
from trainer.screens.drawing.systems import System

STUBS = {"▄": "▟", "▀": "▛", "┓": "┫", "┗": "┣"}
"""Half a head, and the same with the beginning of its stem."""
CORNERS = {True: ("┍┯┑", "╒╤╕"), False: ("┕┷┙", "╘╧╛")}
"""Where a beam meets its stems, first, middle and last: stems up or not, one beam or more."""
_OF_A_NOTE = {Ink.NOTE, Ink.CARE}

Group = tuple[WrittenPart, ...]


@dataclass(frozen=True)
class _Stems:
    """Where a group's stems stand."""

    columns: tuple[int, ...]
    end: int
    """The row of their free ends."""
    up: bool


def draw_stems(
    canvas: Canvas, frame: Frame, system: System, group: Group, lowered: frozenset[int]
) -> None:
    """The stems of a group, and the beam that joins them."""
    if group[0].symbol.value >= WHOLE_NOTE:
        return
    steps = [written_step(part.note, lowered) for part in group]
    tops = [frame.row(step + step % 2) for step in steps]
    feet = [frame.row(step - step % 2) for step in steps]
    stems = _stems(frame, system, group, steps)
    for x, top, foot in zip(stems.columns, tops, feet, strict=True):
        for row in range(stems.end, top) if stems.up else range(foot + 1, stems.end + 1):
            canvas.put(x, row, "│", Ink.SIGN)
        _join(canvas, x, top if stems.up else foot)
    if group[0].symbol.flags:
        _draw_beam(canvas, group, stems)


def draw_figure(
    canvas: Canvas, frame: Frame, system: System, tuplet: Group, lowered: frozenset[int]
) -> None:
    """The figure of a tuplet, in the middle of its beam, or of its notes where there is none."""
    steps = [written_step(part.note, lowered) for part in tuplet]
    stems = _stems(frame, system, tuplet, steps)
    middle = (stems.columns[0] + stems.columns[-1]) // 2
    x = middle - (middle in stems.columns)  # beside a stem, whose beam is read there
    if canvas.ink_at(x, stems.end) not in _OF_A_NOTE:
        canvas.put(x, stems.end, str(tuplet[0].symbol.ratio[0]), Ink.SIGN)


def _stems(frame: Frame, system: System, group: Group, steps: list[int]) -> _Stems:
    tops = [frame.row(step + step % 2) for step in steps]
    feet = [frame.row(step - step % 2) for step in steps]
    low = sum(steps) < len(steps) * (BOTTOM_LINE + TOP_LINE) // 2
    room_above, room_below = min(tops) > frame.sign_rows, max(feet) < frame.height - 1
    up = room_above and (low or not room_below)
    x_of_stem = 2 if up else 1
    return _Stems(
        columns=tuple(system.column(part.beat) + x_of_stem for part in group),
        end=max(frame.sign_rows, min(tops) - 2) if up else min(frame.height - 1, max(feet) + 2),
        up=up,
    )


def _join(canvas: Canvas, x: int, row: int) -> None:
    """Reach across the empty half row between a head in a space and its stem."""
    half = canvas.at(x, row)
    canvas.put(x, row, STUBS.get(half, half), canvas.ink_at(x, row))


def _draw_beam(canvas: Canvas, group: Group, stems: _Stems) -> None:
    columns = stems.columns
    beam = _beam_lines(group, columns)
    corners = CORNERS[stems.up]
    for x in columns:
        double = "═" in (beam.get(x - 1), beam.get(x + 1))
        side = 0 if x == columns[0] else 2 if x == columns[-1] else 1
        beam[x] = corners[double][side]
    for x, mark in beam.items():
        if canvas.ink_at(x, stems.end) not in _OF_A_NOTE:  # a leap may reach into the beam's row
            canvas.put(x, stems.end, mark, Ink.SIGN)


def _beam_lines(group: Group, columns: tuple[int, ...]) -> dict[int, str]:
    """Heavy for one beam, double for more: what two neighbours share, and half beams and flags."""
    counts = [part.symbol.flags for part in group]
    ends = [*columns[1:], columns[-1] + 2]
    shared = [min(pair) for pair in pairwise(counts)] + ([counts[0]] if len(counts) == 1 else [])
    lines: dict[int, str] = {}
    for x, end, count in zip(columns, ends, shared, strict=False):
        lines |= dict.fromkeys(range(x + 1, end), "━" if count == 1 else "═")
    for place, count in enumerate(counts):
        if count > 1 and not any(both > 1 for both in shared[max(0, place - 1) : place + 1]):
            x, step = columns[place], -1 if place else 1
            half = abs(columns[place + step] - x) // 2
            lines |= dict.fromkeys(range(x + step, x + step * (half + 1), step), "═")
    return lines
