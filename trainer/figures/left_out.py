"""Stretches of a line that were not heard at all, before it went on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby, pairwise
from statistics import median

from trainer.music.note import Note

LEFT_OUT_NOTES = 4
"""So many notes in a row are no slips: the player waited, stopped, or went past them. Our own
estimate."""


def left_out(heard: Sequence[bool]) -> Iterator[range]:
    """The places of each such stretch, in order; what is unheard to the very end is none.

    heard: of each note of the round, whether it sounded.
    """
    begin = 0
    for sounded, run in groupby(heard):
        end = begin + len(list(run))
        if not sounded and end - begin >= LEFT_OUT_NOTES and end < len(heard):
            yield range(begin, end)
        begin = end


def gone_past(notes: Sequence[Note], onsets_s: Mapping[int, float]) -> Iterator[int]:
    """Notes to which the player went on without waiting for silent ones before them: they came
    nearer to where the first of these was due than to their own beat, at the tempo of the round.

    onsets_s: by the notes' indices, in seconds; silent ones have none.
    """
    sounded = [place for place, note in enumerate(notes) if note.index in onsets_s]
    steps = [
        (before, after, onsets_s[notes[after].index] - onsets_s[notes[before].index])
        for before, after in pairwise(sounded)
    ]
    if not steps:
        return
    beat_s = median(
        seconds / float(notes[after].beat - notes[before].beat) for before, after, seconds in steps
    )
    for before, after, seconds in steps:
        halfway = (notes[before + 1].beat + notes[after].beat) / 2 - notes[before].beat
        if after > before + 1 and seconds < beat_s * float(halfway):
            yield notes[after].index
