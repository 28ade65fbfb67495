"""A round's music laid out for a size of screen: two staves, and the trail between them.

The systems take turns: even ones stand on the upper staff, odd ones on the lower. While one is
played the other staff already holds what follows, so that the eye only ever moves on. The pitch
trail and the timing lie in the lane between the staves, next to whichever is being played.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from trainer.music.pitch import Pitch
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Row
from trainer.screens.drawing.octave_sign import lowered_notes
from trainer.screens.drawing.staff import staff_rows
from trainer.screens.drawing.staff_rows import Frame, Sheet, frame, sheet
from trainer.screens.drawing.systems import System, systems

ABOVE_ALL_STEP = 99
HIGHEST_STEPS = (
    ABOVE_ALL_STEP,
    *(Pitch.parse(name).staff_step for name in ("C6", "B5", "A5", "G5")),
)
"""Notes above one of these go under an octave sign; the first that leaves room is taken."""
TIMING_ROWS = 1
"""Of the time line."""
ROOMY_TRAIL = 3
"""Rows from which sharp and flat can be told apart."""
TALLEST_TRAIL = 7
TURN_AFTER_BEATS = 1.0
"""The staff just finished is turned when the player is so far into the next one."""


@dataclass(frozen=True)
class RoundLayout:
    """The music of one round at one size."""

    systems: tuple[System, ...]
    sheet: Sheet
    upper: Frame
    lower: Frame | None
    """None where one staff is all there is, or all there is room for."""
    trail_rows: int
    width: int

    @property
    def lane_rows(self) -> int:
        """Rows between the staves."""
        return self.trail_rows + TIMING_ROWS

    def system_at(self, beat: float | None) -> int:
        """Index of the system being played; the first before it begins, the last after."""
        if beat is None or beat < 0:
            return 0
        held = (place for place, system in enumerate(self.systems) if system.holds(beat))
        return next(held, len(self.systems) - 1)

    def pages(self, beat: float | None) -> tuple[int | None, int | None]:
        """Which system the upper and the lower staff show at a beat."""
        current = self.system_at(beat)
        if self.lower is None:
            return current, None
        settled = (beat or 0.0) >= float(self.systems[current].start) + TURN_AFTER_BEATS
        other = current + 1 if settled or current == 0 else current - 1
        neighbour = other if other < len(self.systems) else None
        return (neighbour, current) if current % 2 else (current, neighbour)

    def staff(self, place: int, care: frozenset[int] = frozenset()) -> tuple[Row, ...]:
        """One system drawn in its staff's frame."""
        rows = self.lower if self.lower is not None and place % 2 else self.upper
        return staff_rows(self.systems[place], self.sheet, rows, self.width, care)


def score(round_: Round, width: int, height: int) -> RoundLayout:
    """Lay the round out; the more room, the fewer octave signs and the taller the trail."""
    lines = systems(round_, width)

    def roomiest(two: bool) -> RoundLayout:
        lowered = [lowered_notes(round_.printed, step) for step in HIGHEST_STEPS]
        layouts = [_layout(round_, lines, under, width, height, two) for under in lowered]
        layouts += [_folded(layout, height) for layout in layouts]
        roomy = (layout for layout in layouts if layout.trail_rows >= ROOMY_TRAIL)
        return next(roomy, None) or max(layouts, key=lambda layout: layout.trail_rows)

    chosen = roomiest(two=len(lines) > 1)
    if chosen.trail_rows < 1:
        chosen = roomiest(two=False)
    return replace(chosen, trail_rows=_odd(chosen.trail_rows))


def _layout(
    round_: Round,
    lines: tuple[System, ...],
    lowered: frozenset[int],
    width: int,
    height: int,
    two: bool,
) -> RoundLayout:
    slots = (lines[::2], lines[1::2]) if two else (lines, ())
    upper, lower = (tuple(note for system in slot for note in system.sounding) for slot in slots)
    return _with_trail(
        RoundLayout(
            systems=lines,
            sheet=sheet(round_, lowered),
            upper=frame(upper, lowered),
            lower=frame(lower, lowered) if two else None,
            trail_rows=0,
            width=width,
        ),
        height,
    )


def _with_trail(layout: RoundLayout, height: int) -> RoundLayout:
    staves = layout.upper.height + (layout.lower.height if layout.lower else 0)
    return replace(layout, trail_rows=height - staves - TIMING_ROWS)


def _folded(layout: RoundLayout, height: int) -> RoundLayout:
    """The octave signs on the row of slurs and starts, to leave the trail more room."""
    lower = replace(layout.lower, octave_row=False) if layout.lower else None
    upper = replace(layout.upper, octave_row=False)
    return _with_trail(replace(layout, upper=upper, lower=lower), height)


def _odd(rows: int) -> int:
    """An odd number of rows has one in the middle."""
    rows = max(1, min(rows, TALLEST_TRAIL))
    return rows - 1 + rows % 2
