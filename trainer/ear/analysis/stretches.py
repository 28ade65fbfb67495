"""A long recording cut where the player rests, so that each stretch can be heard by itself.

What the ear keeps of a stretch grows with its length; cut, a recording of any length takes the
memory of one stretch.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from scipy import ndimage

from trainer.ear.analysis.frames import HOP_S, SILENCE_DB, Samples

LONGEST_S = 120.0
"""A shorter recording stays whole; some 70 MB are kept of so much."""
EARLIEST_SHARE = 0.5
"""No stretch but the last is shorter than this share of the longest."""
RESTS_S = (2.0, 1.0, 0.5, 0.25)
"""The longest rest there is; 0.25 s is a quick breath."""
REST_BELOW_DB = 30.0
"""A rest lies so far below the loud notes. Where nothing does the quietest quarter of a second is
taken, and a note held through it is cut in two."""
LOUD_SHARE = 0.8
"""Of the levels: below it lie rests and soft notes."""
PIECE_S = 10.0
"""So much is filtered at a time, for the memory's sake."""


def stretches(blocks: Iterable[Samples], sample_rate_hz: int) -> Iterator[tuple[int, Samples]]:
    """Number of its first sample and sound of each stretch, in order and without gaps, at least
    one; blocks and stretches are mono, shape (samples,)."""
    longest = round(LONGEST_S * sample_rate_hz)
    first, held = 0, np.zeros(0, np.float32)
    waiting: list[Samples] = []
    size = 0
    for block in blocks:
        waiting.append(block)
        size += block.size
        while size > longest:
            held, waiting = np.concatenate(waiting), []
            end = _rest(held[:longest], sample_rate_hz)
            waiting, size = [held[end:].copy()], size - end
            yield first, held[:end]
            first += end
    yield first, np.concatenate([held[:0], *waiting])


def spans(
    blocks: Iterable[Samples], sample_rate_hz: int, wanted_s: Sequence[tuple[float, float]]
) -> Iterator[Samples]:
    """The sound between each two times, which are in order; memory is that of one span."""
    waiting = [(round(a * sample_rate_hz), round(b * sample_rate_hz)) for a, b in wanted_s]
    held, first = np.zeros(0, np.float32), 0
    for block in blocks:
        if not waiting:
            return
        held = np.concatenate([held, block])
        while waiting and first + held.size >= waiting[0][1]:
            begin, end = waiting.pop(0)
            yield held[begin - first : end - first]
        keep = waiting[0][0] - first if waiting else held.size
        held, first = held[max(0, keep) :], first + min(max(0, keep), held.size)
    for begin, end in waiting:
        yield held[max(0, begin - first) : max(0, end - first)]


def pieces(samples: Samples, sample_rate_hz: int) -> Iterator[Samples]:
    """A stretch little by little; both of shape (samples,)."""
    step = round(PIECE_S * sample_rate_hz)
    for first in range(0, samples.size, step):
        yield samples[first : first + step]


def _rest(sound: Samples, sample_rate_hz: int) -> int:
    """The sample in the middle of the longest rest late in the sound; frames measured from there
    on stand where they would without the cut."""
    step = 2 * round(HOP_S * sample_rate_hz)
    cut = sound[: sound.size // step * step].reshape(-1, step)
    power = np.einsum("ij,ij->i", cut, cut) / step
    level_db = 10 * np.log10(np.maximum(power, 10 ** (SILENCE_DB / 10)))
    enough_db = np.quantile(level_db, LOUD_SHARE) - REST_BELOW_DB
    earliest, place = int(EARLIEST_SHARE * level_db.size), 0
    for rest_s in RESTS_S:
        around = min(round(rest_s * sample_rate_hz / step), level_db.size // 4)
        loudest_db = ndimage.maximum_filter1d(level_db, around)[earliest : -around // 2]
        place = int(loudest_db.argmin())
        if loudest_db[place] < enough_db:
            break
    return (earliest + place) * step
