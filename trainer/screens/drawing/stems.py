"""Stems, beams and flags."""

from __future__ import annotations

from itertools import pairwise

from trainer.screens.drawing.canvas import Canvas, Ink
from trainer.screens.drawing.sheet import BOTTOM_LINE, TOP_LINE, Frame, written_step
from trainer.screens.drawing.systems import System
from trainer.screens.drawing.values import WHOLE_NOTE, Group, beams

STUBS = {"▄": "▟", "▀": "▛", "┓": "┫", "┗": "┣"}
"""Half a head, and the same with the beginning of its stem."""
CORNERS = {True: ("┍┯┑", "╒╤╕"), False: ("┕┷┙", "╘╧╛")}
"""Where a beam meets its stems, first, middle and last: stems up or not, one beam or more."""
_OF_A_NOTE = {Ink.NOTE, Ink.CARE}


def draw_stems(
    canvas: Canvas, frame: Frame, system: System, group: Group, lowered: frozenset[int]
) -> None:
    """The stems of a group, and the beam that joins them."""
    if group.notes[0].length >= WHOLE_NOTE:
        return
    steps = [written_step(note, lowered) for note in group.notes]
    tops = [frame.row(step + step % 2) for step in steps]
    feet = [frame.row(step - step % 2) for step in steps]
    low = sum(steps) < len(steps) * (BOTTOM_LINE + TOP_LINE) // 2
    room_above, room_below = min(tops) > frame.sign_rows, max(feet) < frame.height - 1
    up = room_above and (low or not room_below)
    x_of_stem = 2 if up else 1
    columns = [system.column(note.beat) + x_of_stem for note in group.notes]
    end = max(frame.sign_rows, min(tops) - 2) if up else min(frame.height - 1, max(feet) + 2)
    for x, top, foot in zip(columns, tops, feet, strict=True):
        for row in range(end, top) if up else range(foot + 1, end + 1):
            canvas.put(x, row, "│", Ink.SIGN)
        _join(canvas, x, top if up else foot)
    if group.beams:
        _draw_beam(canvas, group, columns, end, up)


def _join(canvas: Canvas, x: int, row: int) -> None:
    """Reach across the empty half row between a head in a space and its stem."""
    half = canvas.at(x, row)
    canvas.put(x, row, STUBS.get(half, half), canvas.ink_at(x, row))


def _draw_beam(canvas: Canvas, group: Group, columns: list[int], row: int, up: bool) -> None:
    beam = _beam_lines(group, columns)
    corners = CORNERS[up]
    for x in columns:
        double = "═" in (beam.get(x - 1), beam.get(x + 1))
        side = 0 if x == columns[0] else 2 if x == columns[-1] else 1
        beam[x] = corners[double][side]
    if group.tuplet is not None:
        beam[(columns[0] + columns[-1]) // 2] = str(group.tuplet)
    for x, mark in beam.items():
        if canvas.ink_at(x, row) not in _OF_A_NOTE:  # a leap may reach into the beam's row
            canvas.put(x, row, mark, Ink.SIGN)


def _beam_lines(group: Group, columns: list[int]) -> dict[int, str]:
    """Heavy for one beam, double for more: what two neighbours share, and half beams and flags."""
    counts = [beams(note.length) for note in group.notes]
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
