"""Which sound answers which expected note once some of the sounds are others.

Where sounds answer notes one after another and stay what they were, their answers stay too; only
the stretches between such places in which a sound has changed are aligned again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from trainer.ear.alignment.align import Answer, align, loud_db
from trainer.ear.alignment.asked_notes import ExpectedNotes
from trainer.ear.segments.note_segment import NoteSegment

STRETCH = 24
"""Sounds that are aligned together at least: a phrase. Our own choice."""
FIRM = 2
"""So many sounds on either side of where a stretch ends answer notes one after another."""


@dataclass(frozen=True)
class _Together:
    """Sounds that are aligned together."""

    now: slice
    """Their places among the sounds as they are now ..."""
    before: slice
    """... and as they were."""
    notes: slice
    """The expected notes that they may answer."""


def aligned(
    sounds: Sequence[NoteSegment], expected_notes: ExpectedNotes, loud: float | None = None
) -> tuple[Answer, ...]:
    """The answers of all sounds; loud: as for `align`."""
    return align(
        sounds,
        expected_notes.midi,
        expected_notes.beats_s,
        expected_notes.lengths_s,
        expected_notes.missed,
        loud,
    )


def aligned_anew(
    before: Sequence[NoteSegment],
    answers: tuple[Answer, ...],
    now: Sequence[NoteSegment],
    expected_notes: ExpectedNotes,
) -> tuple[Answer, ...]:
    """The answers of the sounds as they are now, from those of what they were before. Where
    something was played once more the player may have gone anywhere: then all are aligned again."""
    if now == before:
        return answers
    if not now:
        return ()
    anew: list[Answer] = []
    for part in _stretches(before, answers, now, len(expected_notes.notes)):
        sounds, earlier = now[part.now], answers[part.before]
        if sounds == before[part.before]:
            anew += _moved(earlier, part.now.start - part.before.start, 0)
        elif any(answer.once_more for answer in earlier):
            return aligned(now, expected_notes)
        else:
            found = aligned(sounds, expected_notes.part(part.notes), loud_db(now))
            anew += _moved(found, part.now.start, part.notes.start)
    return tuple(anew)


def _stretches(
    before: Sequence[NoteSegment],
    answers: Sequence[Answer],
    now: Sequence[NoteSegment],
    notes: int,
) -> Iterator[_Together]:
    """All sounds in stretches, of so many expected notes."""
    indices = np.array([answer.index if answer.right else -1 for answer in answers])
    goes_on = (np.diff(indices) == 1) & (indices[:-1] >= 0)
    beyond = np.zeros(2 * FIRM - 1, dtype=bool)
    firm = sliding_window_view(np.append(goes_on, beyond), beyond.size).all(axis=1)
    places = {sound.from_s: place for place, sound in enumerate(now)}
    old, new, note = 0, 0, 0
    for first in np.flatnonzero(firm).tolist():
        cut, there = first + FIRM, places.get(before[first].from_s)
        if cut < old + STRETCH or indices[cut] <= note or there is None:
            continue
        if now[there : there + 2 * FIRM] == before[first : first + 2 * FIRM]:
            ends = there + FIRM, cut, int(indices[cut])
            yield _Together(slice(new, ends[0]), slice(old, ends[1]), slice(note, ends[2]))
            new, old, note = ends
    yield _Together(slice(new, len(now)), slice(old, len(before)), slice(note, notes))


def _moved(answers: Sequence[Answer], by: int, notes: int) -> list[Answer]:
    """Answers of sounds that stand so many places later, to notes that do."""
    return [
        Answer(a.segment + by, None if a.index is None else a.index + notes, a.wrong, a.once_more)
        for a in answers
    ]
