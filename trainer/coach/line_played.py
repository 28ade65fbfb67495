"""Which line sounded, where it wasn't the one asked for from beginning to end: the same on other
notes throughout, a part of it twice, or another that may be nobody's here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from difflib import SequenceMatcher
from itertools import groupby

from trainer.coach.marks import Marks
from trainer.ear.heard import HeardNote, State, Take
from trainer.figures.enough import FIGURE_NOTES

ALIKE = 0.9
"""Share of the notes that agree, in order, from which it is the line. Our own choice."""
MORE_ALIKE = 0.2
"""... and so much more than agree where it stands. Our own choice."""
WHOLE_AMONG = 2
"""The line sounded as a whole where nearly all of its notes did, and not so many times as many
others: who plays it twice has played it. Our own choice."""
AGAIN_NOTES = 3
"""So many different notes in the order of the line are no chance. Our own choice."""


def is_unplayed(marks: Marks) -> bool:
    """Whether nothing heard says that the line asked for was played: none of its notes sounded, all
    of them did on other pitches, or no more of them than a tune next door has by chance; of which
    hardly any has them all."""
    if not marks.judged:
        return False
    if marks.moved_by is not None or not marks.heard:
        return True
    right, others = sum(note.wrong is None for note in marks.heard), other_notes(marks)
    whole = right >= ALIKE * len(marks.judged) and others < WHOLE_AMONG * right
    by_chance = right < AGAIN_NOTES or right <= others
    return len(marks.judged) >= FIGURE_NOTES and by_chance and not whole


def other_notes(marks: Marks) -> int:
    """How many sounded that nobody asked for, beside the line's own or in the place of one."""
    return marks.extras + sum(note.wrong is not None for note in marks.heard)


def unplayed(take: Take, marks: Marks) -> Take:
    """The take of a line that `is_unplayed`, with nothing said of its notes; what else sounded
    stays where it was the line on other pitches."""
    return replace(
        take,
        notes=tuple(
            note if note.index is None else HeardNote(note.index, note.expected, State.NOT_JUDGED)
            for note in take.notes
            if note.index is not None or marks.moved_by is not None
        ),
    )


def moved_by(take: Take) -> int | None:
    """Semitones by which the line sounded higher than asked for, lower negative; None where it
    didn't sound as a whole on other notes."""
    asked, sounded = _asked(take), [midi for _, midi in _sounded(take)]
    if min(len(asked), len(sounded)) < FIGURE_NOTES:
        return None
    by = _likeliest(asked, sounded)
    moved = _alike([midi + by for midi in asked], sounded)
    surely = by != 0 and moved >= ALIKE and moved >= _alike(asked, sounded) + MORE_ALIKE
    return by if surely else None


def went_back_after(take: Take) -> tuple[int, ...]:
    """Indices of the notes after which notes of the line sounded that had sounded before, and then
    the line went on."""
    return tuple(dict.fromkeys(_turns(take)))


def _turns(take: Take) -> Iterator[int]:
    asked, reached = _asked(take), -1
    runs = [list(run) for _, run in groupby(_sounded(take), key=lambda each: _is_unasked(each[0]))]
    for run in runs[:-1]:
        if not _is_unasked(run[0][0]):
            reached = max(reached, *(note.index or 0 for note, _ in run))
            continue
        midis = [midi for _, midi in run]
        same = SequenceMatcher(None, asked, midis, autojunk=False).find_longest_match()
        if len(set(midis[same.b : same.b + same.size])) >= AGAIN_NOTES:
            yield max(reached, same.a + same.size - 1)


def _likeliest(asked: Sequence[int], sounded: Sequence[int]) -> int:
    """The distance in semitones at which most of what sounded lies above what was asked for."""
    apart: Counter[int] = Counter()
    for pitch, times in Counter(sounded).items():
        for other, often in Counter(asked).items():
            apart[pitch - other] += times * often
    return apart.most_common(1)[0][0]


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
