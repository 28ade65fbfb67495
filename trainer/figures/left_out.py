"""Stretches of a line that were not heard at all, before it went on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

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
