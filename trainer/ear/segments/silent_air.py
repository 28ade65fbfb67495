"""Silent air: puffs of breath through the flute, without a tone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import ndimage

from trainer.ear.analysis.envelope import Envelope
from trainer.ear.analysis.frames import Track
from trainer.ear.heard import HeardNote, State
from trainer.music.note import Note, Start

ABOVE_FLOOR_DB = 8.0
"""A puff stands this far above the quietest tenth of the take."""
NEAR_BEAT = 0.5
"""A puff belongs to a note when it begins within this share of a note's length of its place."""
SMOOTH_STEPS = 5
"""Milliseconds over which the breath's own roughness is smoothed."""
CLIMB_S = 0.012
"""A puff's rise is looked for over so long."""
LEAST_CLIMB_DB = 3.0
"""A smaller rise is the air's own unsteadiness."""
APART_S = 0.03
SWELL_S = 0.004
"""A puff has begun this long before its steepest rise."""


def hear_silent_air(
    envelope: Envelope, expected: Sequence[Note], beat_s: float, first_beat_s: float | None
) -> list[HeardNote]:
    """A heard note for each expected puff: played where air begins near its place."""
    level = np.convolve(envelope.high_db, np.ones(SMOOTH_STEPS) / SMOOTH_STEPS, "same")
    onsets_s = _rises(level, envelope.step_s)
    if first_beat_s is None:
        first_beat_s = float(onsets_s[0]) if onsets_s.size else 0.0
    heard = []
    for note in expected:
        place_s = first_beat_s + float(note.beat) * beat_s
        reach_s = NEAR_BEAT * float(note.length) * beat_s
        near = onsets_s[np.abs(onsets_s - place_s) < min(reach_s, 0.2)]
        if near.size == 0:
            heard.append(HeardNote(note.index, note.pitch, State.MISSED))
            continue
        onset_s = float(near[np.abs(near - place_s).argmin()])
        puff = envelope.between(envelope.wide_db, onset_s, onset_s + 0.06)
        heard.append(
            HeardNote(
                note.index,
                note.pitch,
                State.PLAYED,
                onset_s=max(0.0, onset_s),
                end_s=onset_s + reach_s,
                level_db=float(puff.max()),
                start=Start.SILENT_AIR,
            )
        )
    return heard


def _rises(level: Track, step_s: float) -> Track:
    """Times at which the air begins: where the level climbs fastest, valley to peak.

    In a room the valleys between quick puffs fill up, so the climb counts and no fixed level.
    """
    floor_db = np.percentile(level, 5)
    span = round(CLIMB_S / step_s)
    if level.size <= 2 * span:
        return np.zeros(0)
    climb = level[span:] - level[:-span]
    around = 2 * round(APART_S / step_s) + 1
    steepest = (climb == ndimage.maximum_filter1d(climb, around)) & (climb >= LEAST_CLIMB_DB)
    places = np.flatnonzero(steepest)
    tops = np.array([level[place : place + 3 * span].max() for place in places])
    heard = places[tops > floor_db + ABOVE_FLOOR_DB] if places.size else places
    return np.asarray((heard + span / 2) * step_s - SWELL_S, np.float64)
