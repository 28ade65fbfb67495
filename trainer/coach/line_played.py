"""Which line sounded, where it wasn't the one asked for from beginning to end: the same on other
notes throughout, or a part of it twice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher
from itertools import groupby
from statistics import median

from trainer.ear.heard import HeardNote, Take
from trainer.figures.enough import FIGURE_NOTES

ALIKE = 0.9
"""Share of the notes that agree, in order, from which it is the line. Our own choice."""
MORE_ALIKE = 0.2
"""... and so much more than agree where it stands. Our own choice."""
AGAIN_NOTES = 3
"""So many different notes in the order of the line are no chance. Our own choice."""


def moved_by(take: Take) -> int | None:
    """Semitones by which the line sounded higher than asked for, lower negative; None where it
    didn't sound as a whole on other notes."""
    asked, sounded = _asked(take), [midi for _, midi in _sounded(take)]
    if min(len(asked), len(sounded)) < FIGURE_NOTES:
        return None
    by = round(median(sounded) - median(asked))
    moved = _alike([midi + by for midi in asked], sounded)
    surely = by != 0 and moved >= ALIKE and moved >= _alike(asked, sounded) + MORE_ALIKE
    return by if surely else None


def went_back_after(take: Take) -> tuple[int, ...]:
    """Indices of the notes after which notes of the line sounded that had sounded before, and then
    the line went on."""
    return tuple(dict.fromkeys(_turns(take)))


def _turns(take: Take) -> Iterator[int]:
    asked = _asked(take)
    runs = [
        (unasked, [midi for _, midi in run])
        for unasked, run in groupby(_sounded(take), key=lambda each: _is_unasked(each[0]))
    ]
    for unasked, midis in runs[:-1]:
        same = SequenceMatcher(None, asked, midis, autojunk=False).find_longest_match()
        if unasked and len(set(midis[same.b : same.b + same.size])) >= AGAIN_NOTES:
            yield same.a + same.size - 1


def _asked(take: Take) -> list[int]:
    return [note.expected.midi for note in take.expected_notes if note.expected is not None]


def _sounded(take: Take) -> list[tuple[HeardNote, int]]:
    """The notes that had a pitch, with the nearest MIDI number, as they sounded."""
    return [(note, round(note.midi)) for note in take.notes if note.midi is not None]


def _is_unasked(note: HeardNote) -> bool:
    return note.index is None and note.instead_of is None


def _alike(one: Sequence[int], other: Sequence[int]) -> float:
    """Share of the notes that agree in order, 0 to 1."""
    return SequenceMatcher(None, one, other, autojunk=False).ratio()
