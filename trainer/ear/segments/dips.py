"""Where the level of one held pitch dips: there the same note may start again, or the player
swells, or the room beats."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from trainer.ear.analysis.envelope import Envelope
from trainer.ear.analysis.order_statistics import median

LEAST_DIP_DB = 2.0
"""Shallower ones every tone has."""
APART_S = 0.055
SWAYS_S = 0.064
"""A note slow to speak sways so long after its stroke: nothing starts again there (recorded single
notes need 50 ms in the median, our own measurement); nor so shortly before its end (sixteenths at
160 last 94 ms)."""
REST_LOOK_S, REST_TOP_DB = 0.4, 4.0
"""See REST_RETURNS_DB."""
REST_S, RETURN_S, RETURN_STEPS = 0.15, 0.08, 15
"""See REST_RETURNS_DB."""
REST_RETURNS_DB, REST_SOFTER_DB = 16.0, 20.0
"""After a rest in a room that rings the level has fallen for so long from within 4 dB of what stood
before, longer than half a vibrato, and comes back by so much within 15 ms, to no less than 20 dB
below: none of 1,879 dips in held notes, dry and in rooms, does so much. Our own measurement."""
CLIMB_STEPS = 4
"""Milliseconds over which a climb is measured."""
HUSH_S, PEAK_S = (-0.03, 0.02), (-0.005, 0.03)
"""About a dip, where the high band's fall and its rise are looked for."""


@dataclass(frozen=True)
class Dip:
    """One dip inside a sound."""

    at_s: float
    """Its bottom."""
    depth_db: float
    """Below the softer of the peaks beside it."""
    climb_db: float
    """The steepest climb of the high band within 4 ms near it."""
    hush_db: float
    """How far the high band falls about it below the softer of its sides."""
    peak_db: float
    """How far the high band rises just after it above the softer of its sides."""


def dips(envelope: Envelope, from_s: float, to_s: float) -> list[Dip]:
    """The dips between two times, in order, no two nearer than `APART_S`."""
    level = envelope.between(envelope.wide_db, from_s, to_s)
    reach = round(APART_S / envelope.step_s)
    if level.size < 3 * reach:
        return []
    lowest = ndimage.minimum_filter1d(level, min(level.size, 2 * reach + 1))
    found: list[Dip] = []
    for place in np.flatnonzero(level == lowest):
        edge = round(SWAYS_S / envelope.step_s)
        if place < edge or place > level.size - edge:
            continue
        before = level[max(0, place - 2 * reach) : place].max()
        after = level[place : place + 2 * reach].max()
        depth_db = float(min(before, after) - level[place])
        at_s = from_s + float(place) * envelope.step_s
        if depth_db >= LEAST_DIP_DB and not (found and at_s - found[-1].at_s < APART_S):
            found.append(_dip(envelope, from_s, to_s, at_s, depth_db))
    return found


def _dip(envelope: Envelope, from_s: float, to_s: float, at_s: float, depth_db: float) -> Dip:
    high = envelope.high_db
    sides = envelope.between(high, from_s, at_s), envelope.between(high, at_s, to_s)
    side_db = min(median(part) for part in sides)
    valley = envelope.between(high, at_s + HUSH_S[0], at_s + HUSH_S[1])
    peak = envelope.between(high, at_s + PEAK_S[0], at_s + PEAK_S[1])
    return Dip(
        at_s,
        depth_db,
        climb_db(envelope, at_s),
        side_db - float(valley.min()),
        float(peak.max()) - side_db,
    )


def climb_db(envelope: Envelope, at_s: float) -> float:
    """The steepest climb of the high band within 4 ms near a time, in dB."""
    near = envelope.between(envelope.high_db, at_s - 0.015, at_s + 0.03)
    return float((near[CLIMB_STEPS:] - near[:-CLIMB_STEPS]).max()) if near.size > 8 else 0.0


def is_after_rest(envelope: Envelope, from_s: float, at_s: float, to_s: float) -> bool:
    """Whether a rest ends at the bottom of a dip of a sound between two times, while the room
    rang on."""
    level = envelope.between(envelope.wide_db, max(from_s, at_s - REST_LOOK_S), at_s)
    rise = envelope.between(envelope.wide_db, at_s, min(to_s, at_s + RETURN_S))
    top_db = float(level.max())
    fell_s = (level.size - int(np.flatnonzero(level >= top_db - REST_TOP_DB)[-1])) * envelope.step_s
    if fell_s < REST_S or rise.size <= RETURN_STEPS:
        return False
    returns_db = float((rise[RETURN_STEPS:] - rise[:-RETURN_STEPS]).max())
    return returns_db >= REST_RETURNS_DB and float(rise.max()) >= top_db - REST_SOFTER_DB
