"""From frames to sounds: stretches of steady pitch, split where the same note starts again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from trainer.ear.course import Course
from trainer.ear.envelope import Envelope
from trainer.ear.frames import Frames

Mask = NDArray[np.bool_]

CLEAR = 0.72
"""Frames this clear are tones; silent air reads below 0.3, a steady tone above 0.95."""
BELOW_LOUDEST_DB = 42.0
"""What lies further below the loud notes is no note of this player: room, neighbours, hiss."""
SAME_SOUND_SEMITONES = 0.6
SHORTEST_S = 0.018
"""Shorter stretches are the glide between two fingerings: keys take 10 to 16 ms to move
(Almeida, Chow, Smith & Wolfe 2009, JASA 126:1521)."""
SHORT_S = 0.062
SHORT_CLEAR = 0.955
"""In a room the last note rings into this one, and the two together can look like a third pitch
for a moment: a short sound must be clear to count."""
MEDIAN_FRAMES = 3
GAP_S = 0.045
"""Stretches of one pitch this close are one sound until a new start is found between them."""
NEW_START_DIP_DB = 6.0
NEW_START_CLEAR_DIP_DB = 12.0
NEW_START_BURST_DB = 6.0
"""A dip with a consonant's burst, or a deep dip alone, starts the same note again."""
NEW_START_APART_S = 0.055


@dataclass(frozen=True)
class Sound:
    """One stretch of steady pitch."""

    midi: float
    """Median pitch, fractional MIDI number."""
    from_s: float
    to_s: float
    level_db: float
    """Of its loudest part, re full scale."""
    clarity: float = 1.0
    """Median of its frames; two tones of a change-over that ring together are unclear."""

    @property
    def length_s(self) -> float:
        """How long it lasts."""
        return self.to_s - self.from_s


def sounds(frames: Frames, envelope: Envelope, course: Course) -> tuple[Sound, ...]:
    """Every tone in a take, in order; the course says which semitone sounds when."""
    found = [
        _sound(frames, course, first, end)
        for first, end in course.runs()
        if (end - first) * frames.hop_s >= SHORTEST_S
    ]
    joined = _joined([sound for sound in found if _counts(sound)])
    return tuple(part for sound in joined for part in _split(sound, envelope))


def voiced(frames: Frames) -> Mask:
    """True where a frame holds a tone of this player."""
    clear = (frames.clarity > CLEAR) & np.isfinite(frames.midi)
    if not clear.any():
        return clear
    loud_db = np.percentile(frames.level_db[clear], 90)
    return np.asarray(clear & (frames.level_db > loud_db - BELOW_LOUDEST_DB))


def _sound(frames: Frames, course: Course, first: int, end: int) -> Sound:
    times_s = frames.times_s
    midi = frames.midi[first:end]
    on_it = np.abs(midi - course.midi[first]) < SAME_SOUND_SEMITONES
    return Sound(
        midi=float(np.median(midi[on_it])) if on_it.any() else float(course.midi[first]),
        from_s=float(times_s[first]),
        to_s=float(times_s[end - 1] + frames.hop_s),
        level_db=float(np.percentile(frames.level_db[first:end], 80)),
        clarity=float(np.median(frames.clarity[first:end])),
    )


def _counts(sound: Sound) -> bool:
    return sound.length_s >= SHORT_S or sound.clarity >= SHORT_CLEAR


def _joined(found: list[Sound]) -> list[Sound]:
    """Neighbouring stretches of one pitch become one."""
    joined: list[Sound] = []
    for sound in found:
        last = joined[-1] if joined else None
        if (
            last is not None
            and abs(sound.midi - last.midi) < SAME_SOUND_SEMITONES
            and sound.from_s - last.to_s < GAP_S
        ):
            longer = max(last, sound, key=lambda part: part.length_s)
            joined[-1] = replace(
                longer,
                from_s=last.from_s,
                to_s=sound.to_s,
                level_db=max(last.level_db, sound.level_db),
            )
        else:
            joined.append(sound)
    return joined


def _split(sound: Sound, envelope: Envelope) -> list[Sound]:
    """The sound cut wherever it clearly starts again."""
    cuts = [s for s in new_starts(sound, envelope) if s.clear]
    edges = [sound.from_s, *(cut.at_s for cut in cuts), sound.to_s]
    return [replace(sound, from_s=first, to_s=end) for first, end in pairwise(edges)]


@dataclass(frozen=True)
class NewStart:
    """A place inside a sound where the same note may start again."""

    at_s: float
    """The bottom of the dip."""
    dip_db: float
    """Below the quieter of the peaks around it."""
    clear: bool


def new_starts(sound: Sound, envelope: Envelope) -> list[NewStart]:
    """Dips of the envelope inside a sound, in order of time."""
    level = envelope.between(envelope.wide_db, sound.from_s, sound.to_s)
    reach = round(NEW_START_APART_S / envelope.step_s)
    if level.size < 3 * reach:
        return []
    around = min(level.size, 2 * reach + 1)
    lowest = ndimage.minimum_filter1d(level, around)
    places = np.flatnonzero(level == lowest)
    found: list[NewStart] = []
    for place in places:
        if place < reach or place > level.size - reach:
            continue
        before = level[max(0, place - 2 * reach) : place].max()
        after = level[place : place + 2 * reach].max()
        dip_db = float(min(before, after) - level[place])
        at_s = sound.from_s + float(place) * envelope.step_s
        if dip_db < NEW_START_DIP_DB or (found and at_s - found[-1].at_s < NEW_START_APART_S):
            continue
        clear = dip_db >= NEW_START_CLEAR_DIP_DB or burst_db(envelope, at_s) >= NEW_START_BURST_DB
        found.append(NewStart(at_s, dip_db, clear))
    return found


def burst_db(envelope: Envelope, at_s: float) -> float:
    """How far a consonant at this time stands above the high band's level around it."""
    near = envelope.between(envelope.high_db, at_s - 0.012, at_s + 0.028)
    around = np.concatenate(
        [
            envelope.between(envelope.high_db, at_s - 0.08, at_s - 0.02),
            envelope.between(envelope.high_db, at_s + 0.04, at_s + 0.10),
        ]
    )
    return float(near.max() - np.median(around))
