"""Breaths heard where none was planned."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from trainer.ear.heard import Take
from trainer.routine.round import Round


def unplanned_breaths(round_: Round, take: Take) -> Iterator[int]:
    """Notes after which a breath was heard where neither a breath nor a rest was planned.

    Silence beside a note that was not played is that note's, not a breath.
    """
    planned = {
        note.index
        for note, after in pairwise(round_.notes)
        if note.breath_after or note.beat + note.length < after.beat
    }
    played = {note.index: note for note in take.expected_notes if note.onset_s is not None}
    for start_s, _ in take.breaths_s:
        before = [index for index, note in played.items() if (note.onset_s or 0.0) < start_s]
        last = max((index for index in before if index is not None), default=None)
        if last is not None and last not in planned and last + 1 in played:
            yield last
