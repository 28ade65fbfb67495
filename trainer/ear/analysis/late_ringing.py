"""What a room still rings with, taken out of the strengths of the semitones.

After every change of note the old one's harmonics fall as the room lets them: from their slopes the
room's decay is known while the music goes on, without a rest. What rings is then taken to be what
sounded shortly before, so much weaker, and taken off as power (late reverberation by a delayed and
weakened copy: Lebart, Boucher & Denbigh 2001, Acta Acustica 87:359).
"""

from __future__ import annotations

import numpy as np

from trainer.ear.analysis.frames import HOP_S
from trainer.ear.analysis.order_statistics import quantile, slope
from trainer.ear.analysis.salience import Salience

LAG_FRAMES = 10
"""So long before: as long as the strengths' window."""
LEAST_SHARE = 0.1
"""Of the power that stays: with nothing else there what rings is still the strongest."""
STOOD_FRAMES = 12
FOLLOWED_FRAMES = (4, 16)
"""After the change: clear of the strengths' window, and no longer than a fast note."""
FEWEST_CHANGES = 4
SLOW_SHARE = 0.3
"""Beats make single falls steeper oftener than slower: of all falls the one below which this share
lies comes nearest to rooms whose decay is known. Our own measurement, rooms of 0.4 to 2 s."""
GONE_DB = 14.0
STEEPEST_DB_PER_S = 400.0
"""A note that has fallen so far 20 ms after its end rings in no room; what then stands there is the
next note's. Where that grows the slope tells nothing."""
RELATED = (0, 5, 7)
"""Semitones, octaves apart: notes that share their strongest harmonics with the one before."""
LOOK_BACK_FRAMES = 4000
"""The room is measured over the last 20 seconds."""


def falls_db_per_s(strong: Salience) -> float | None:
    """How fast a note's harmonics fall after the next has begun, taken over the changes in
    raw strengths of shape (frames, semitones); None where there are too few."""
    strong = strong[-LOOK_BACK_FRAMES:]
    best = strong.argmax(axis=1)
    edges = np.flatnonzero(np.diff(best)) + 1
    starts = np.concatenate([[0], edges])
    ends = np.concatenate([edges, [best.size]])
    stood = ends - starts >= STOOD_FRAMES
    first, end = FOLLOWED_FRAMES
    slopes = []
    for place in np.flatnonzero(stood[:-1]):
        change = int(ends[place])
        old, new = int(best[change - 1]), int(best[change])
        goes_on = ends[place + 1] - change >= first
        if abs(new - old) % 12 in RELATED or not goes_on or change + end > best.size:
            continue
        track = strong[change - STOOD_FRAMES : change + end, old]
        level_db = 20 * np.log10(np.maximum(track, 1e-12))
        after_db = level_db[STOOD_FRAMES + first :]
        falls = -slope(after_db, HOP_S)
        if level_db.max() - after_db[0] > GONE_DB:
            slopes.append(STEEPEST_DB_PER_S)
        elif falls > 0:
            slopes.append(falls)
    return quantile(np.array(slopes), SLOW_SHARE) if len(slopes) >= FEWEST_CHANGES else None


def without_late_ringing(strong: Salience, before: Salience, falls: float | None) -> Salience:
    """Strengths less what rings in them.

    before: those of the LAG_FRAMES frames before them, fewer at the beginning; falls: the room's
    decay in dB per second, None where it isn't known.

    Strengths have the shape (frames, semitones).
    """
    if falls is None or falls <= 0:
        return strong
    left = np.float32(10 ** (-falls * LAG_FRAMES * HOP_S / 10))
    missing = LAG_FRAMES - len(before)
    both = np.concatenate([np.zeros((missing, strong.shape[1]), np.float32), before, strong])
    earlier = both[: len(strong)]
    power = np.maximum(strong**2 - left * earlier**2, np.float32(LEAST_SHARE) * strong**2)
    return np.asarray(np.sqrt(power))
