"""How a room rings on, measured at the note ends of the take itself.

A room's decay time is the time for 60 dB at the slope of a stretch of its decay (ISO 3382-1:2009,
which takes 20 or 30 dB from 5 dB below the start on). Here it is the last 20 dB above the noise,
as a player's own release comes first; and what is measured is room, player's release and
microphone together, which is what a tail must be judged against.
"""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from trainer.ear.analysis.frames import Frames, Track
from trainer.ear.analysis.order_statistics import median, quantile, slope
from trainer.ear.heard import Room

BEAT_S = 0.1
"""A decay beats with itself, to its silence and back (its level is Rayleigh distributed; Schroeder
1954, Acustica 4:594), so its highest level in the next tenth of a second is followed."""
REBOUND_DB = 6.0
"""More than this up again is another sound."""
DEEP_DB = 20.0
"""How far a sound must fall to be a note's end."""
FROM_TOP_DB = 5.0
"""The fall counts from so far below the tone on, as in ISO 3382 (from memory)."""
ABOVE_FLOOR_DB = 6.0
"""... and ends so far above the noise."""
FLOOR_SHARE = 0.03
LONGEST_FALL_S = 2.5
"""A slower fall is a player's diminuendo. Not counted is how long a held note stood before."""
STEEPEST_DB_PER_S = 600.0
"""A window of 20 ms sees nothing steeper."""
TONE_CLEAR = 0.9
"""A frame so clear is a tone's."""
OWN_SHARE = 0.6
"""Of such frames at a note's end so many have its pitch: all of them at four ends of recorded
lines, a third at most where a line grew softer from note to note, so that its level fell without a
rebound too (seven times; our own measurement)."""


def room_decay(frames: Frames) -> Room | None:
    """How the room rings on after this take's notes; None where none of them ends in silence."""
    falls = _decays(frames)
    if not falls:
        return None
    slopes_db_per_s, ringing_db = np.array(falls).T
    return Room(
        decay_s=60.0 / median(slopes_db_per_s),
        ring_db=min(0.0, median(ringing_db)),
        ends=len(falls),
    )


def _decays(frames: Frames) -> list[tuple[float, float]]:
    """For each note end the slope in dB per second, falling positive, and the level of the ringing
    at the moment the tone stops against the tone's, in dB."""
    if frames.size == 0:
        return []
    hop_s, ahead = frames.hop_s, max(1, round(BEAT_S / frames.hop_s))
    level_db = ndimage.maximum_filter1d(frames.level_db, ahead, origin=-(ahead // 2))
    floor_db = quantile(level_db, FLOOR_SHARE) + ABOVE_FLOOR_DB
    found = []
    for top, low in _falls(level_db):
        fall = level_db[top : low + 1]
        stops = int(np.flatnonzero(fall >= fall[0] - FROM_TOP_DB)[-1])
        if (fall.size - stops) * hop_s > LONGEST_FALL_S:
            continue
        lowest_db = max(float(fall[-1]), floor_db)
        highest_db = min(lowest_db + DEEP_DB, float(fall[0]) - FROM_TOP_DB)
        late = np.flatnonzero(fall >= highest_db)[-1] + 1
        end = late + int(np.argmax(np.append(fall[late:] <= lowest_db, True)))
        if highest_db <= lowest_db or end - late < 2:
            found.append((STEEPEST_DB_PER_S, -DEEP_DB))
            continue
        falls = -slope(fall[late:end], hop_s)
        if falls <= 0 or not _keeps_its_pitch(frames.part(top + stops, top + end)):
            continue
        since_s = hop_s * np.arange(1, end - stops)
        ringing_db = median(fall[stops + 1 : end] + falls * since_s) - float(fall[0])
        found.append((min(falls, STEEPEST_DB_PER_S), ringing_db))
    return found


def _keeps_its_pitch(fall: Frames) -> bool:
    """Whether what falls has one pitch, as far as it has any: else it is a line growing softer."""
    midi = fall.midi[fall.clarity >= TONE_CLEAR]
    if midi.size == 0:
        return True
    return bool(np.mean(np.abs(midi - median(midi)) < 1.0) >= OWN_SHARE)


def _falls(level_db: Track) -> list[tuple[int, int]]:
    """Top and bottom of each stretch in which the level falls far without a rebound."""
    found = []
    levels: list[float] = level_db.tolist()
    top = low = 0
    for place, level in enumerate(levels):
        if level < levels[low]:
            low = place
        elif level > levels[low] + REBOUND_DB or level >= levels[top]:
            if levels[top] - levels[low] >= DEEP_DB:
                found.append((top, low))
            top = low = place
    if levels[top] - levels[low] >= DEEP_DB:
        found.append((top, low))
    return found
