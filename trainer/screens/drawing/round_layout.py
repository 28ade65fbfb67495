"""A round's music laid out for a size of screen: two staves, and the trail between them.

The systems take turns: even ones stand on the upper staff, odd ones on the lower. While one is
played the other staff already holds what follows, so that the eye only ever moves on. The pitch
trail and the timing lie in the lane between the staves, next to whichever is being played.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.app.settings import (
    AS_THE_SCREEN_ALLOWS,
    OCTAVE_SIGN,
    SMALL_NOTES,
    Settings,
)
from trainer.music.pitch import Pitch
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Row
from trainer.screens.drawing.engrave import engraved
from trainer.screens.drawing.faces.held_tuning import odd
from trainer.screens.drawing.faces.lane_face import FACE_ROWS, wants_room
from trainer.screens.drawing.octave_sign import lowered_notes
from trainer.screens.drawing.scale import COMPACT, PIXELS, PIXELS_ON_STAND, STAND, StaffScale
from trainer.screens.drawing.staff import staff_rows
from trainer.screens.drawing.staff_items import StaffItems
from trainer.screens.drawing.staff_rows import Frame, Sheet, frame, sheet
from trainer.screens.drawing.systems import System, systems

HIGHEST_STEP = Pitch.parse("A5").staff_step
"""Where octave signs are wanted, notes above this go under one."""
TIMING_ROWS = 1
"""Of the time line."""
ROOMY_TRAIL = 3
"""Rows from which sharp and flat can be told apart."""
TALLEST_TRAIL = 7
TALLEST_FACE = 13
"""Likewise, where the thing practised has a face of its own (`faces.lane_face`)."""
TURN_AFTER_BEATS = 1.0
"""The staff just finished is turned when the player is so far into the next one."""
STAND_WIDTH, STAND_HEIGHT = 100, 26
"""From a screen of 100 by 30 on, less its title and its keys, notes are large where a system then
still holds a whole bar."""
BEFORE_A_NOTE = 1
"""Staff spaces an accidental needs before its head."""


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

    def is_whole(self, height: int) -> bool:
        """Whether so many rows hold the music and its lane, and the columns its systems."""
        staves = self.upper.height + (self.lower.height if self.lower else 0)
        widest = max(system.right for system in self.systems)
        return self.width >= widest and height >= staves + self.lane_rows

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
        return staff_rows(self.systems[place], self.sheet, self.frame(place), self.width, care)

    def items(self, place: int) -> StaffItems:
        """What stands on one system, for another painter."""
        return engraved(self.systems[place], self.sheet, self.frame(place))

    def frame(self, place: int) -> Frame:
        """The rows a system is drawn in."""
        return self.lower if self.lower is not None and place % 2 else self.upper

    def turn_column(self, beat: float | None) -> int | None:
        """Up to which column the next system is already shown, where one staff is all there is.

        Once the player is well into its second half, the first half of the staff turns to what
        follows, so that the eye can read on; a note of it that is still held stays until its end.
        """
        if self.lower is not None or beat is None or beat < 0:
            return None
        current = self.system_at(beat)
        system = self.systems[current]
        middle = system.start + math.ceil(system.beats / 2)
        after = min(TURN_AFTER_BEATS, float(system.end - middle) / 2)
        held = any(
            note.beat < middle and note.beat + note.length > beat for note in system.sounding
        )
        if current + 1 == len(self.systems) or beat < middle + after or held:
            return None
        before_note = BEFORE_A_NOTE * self.upper.scale.columns_a_space if self.sheet.signs else 0
        return system.column(middle) + 1 - before_note


def score(
    round_: Round,
    width: int,
    height: int,
    scale: StaffScale = COMPACT,
    *,
    octave_signs: bool = False,
    least_trail: int = ROOMY_TRAIL,
    tallest_trail: int = TALLEST_TRAIL,
) -> RoundLayout:
    """Lay the round out: two staves where they fit with `least_trail` rows between, else one.

    `octave_signs`: high notes are written an octave lower under 8va, instead of on ledger lines.
    """
    music = _sheet(round_, octave_signs=octave_signs)
    return _laid_out(round_, music, (width, height), scale, least_trail, tallest_trail)


def fitted(
    round_: Round, width: int, height: int, settings: Settings, *, in_pixels: bool = False
) -> RoundLayout:
    """The round as large as the student wants it and the screen allows."""
    small_scale, large_scale = (PIXELS, PIXELS_ON_STAND) if in_pixels else (COMPACT, STAND)
    least, tallest = (
        (FACE_ROWS - TIMING_ROWS, TALLEST_FACE)
        if wants_room(round_)
        else (ROOMY_TRAIL, TALLEST_TRAIL)
    )
    music = _sheet(round_, octave_signs=settings.high_notes == OCTAVE_SIGN)

    def laid_out(scale: StaffScale) -> RoundLayout:
        return _laid_out(round_, music, (width, height), scale, least, tallest)

    automatic = settings.note_size == AS_THE_SCREEN_ALLOWS
    wide = width >= STAND_WIDTH and height >= STAND_HEIGHT
    if settings.note_size == SMALL_NOTES or (automatic and not wide):
        return laid_out(small_scale)
    large = laid_out(large_scale)
    bar = min(Fraction(round_.beats_per_bar), round_.beats)
    whole_bars = max(system.beats for system in large.systems) >= bar
    roomy = whole_bars and large.trail_rows >= ROOMY_TRAIL
    return large if (roomy if automatic else large.is_whole(height)) else laid_out(small_scale)


def _sheet(round_: Round, *, octave_signs: bool) -> Sheet:
    lowered = lowered_notes(round_.printed, HIGHEST_STEP) if octave_signs else frozenset()
    return sheet(round_, lowered)


def _laid_out(
    round_: Round,
    music: Sheet,
    size: tuple[int, int],
    scale: StaffScale,
    least_trail: int,
    tallest_trail: int,
) -> RoundLayout:
    width, height = size
    lines = systems(round_, width, scale)
    chosen = _layout(music, lines, width, height, scale, two=len(lines) > 1)
    if len(lines) > 1 and chosen.trail_rows < least_trail:
        chosen = _layout(music, lines, width, height, scale, two=False)
    return replace(chosen, trail_rows=odd(min(chosen.trail_rows, tallest_trail)))


def _layout(
    music: Sheet,
    lines: tuple[System, ...],
    width: int,
    height: int,
    scale: StaffScale,
    *,
    two: bool,
) -> RoundLayout:
    slots = (lines[::2], lines[1::2]) if two else (lines, ())
    upper, lower = (tuple(note for system in slot for note in system.sounding) for slot in slots)
    frames = frame(upper, music, scale), frame(lower, music, scale) if two else None
    staves = frames[0].height + (frames[1].height if frames[1] else 0)
    return RoundLayout(
        systems=lines,
        sheet=music,
        upper=frames[0],
        lower=frames[1],
        trail_rows=height - staves - TIMING_ROWS,
        width=width,
    )
