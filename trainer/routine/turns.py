"""Notes shared out between partner and student, who play in turns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import count
from math import ceil, floor

from trainer.music.note import Note, Start

Turn = tuple[Note, ...]


def shared_out(
    notes: Sequence[Note], beats_per_bar: int, turn_bars: int, *, answered: bool
) -> tuple[tuple[Note, ...], tuple[Note, ...]]:
    """The student's notes and the partner's, numbered in that order; both have some.

    A turn lasts so many bars; 0: a phrase, up to its breath. `answered`: each turn comes twice,
    from the partner and then from the student, and later turns move back to make room. Otherwise
    the student has every second turn; where there is only one, it is played back.
    """
    turns = _by_bars(notes, beats_per_bar * turn_bars) if turn_bars else _by_breaths(notes)
    if answered or len(turns) < 2:
        partners, own = _twice(turns, beats_per_bar)
    else:
        partners, own = turns[::2], turns[1::2]
    partners = [_handed_over(turn) for turn in partners]
    numbers = count()
    return _numbered(own, numbers), _numbered(partners, numbers)


def _by_bars(notes: Sequence[Note], beats: int) -> list[Turn]:
    """Notes by the stretch they begin in; held no longer than it lasts."""
    turns: dict[int, list[Note]] = {}
    for note in notes:
        place = floor(note.beat) // beats
        length = min(note.length, (place + 1) * beats - note.beat)
        turns.setdefault(place, []).append(replace(note, length=length))
    return [_with_a_start(turn) for _, turn in sorted(turns.items())]


def _by_breaths(notes: Sequence[Note]) -> list[Turn]:
    turns: list[list[Note]] = [[]]
    for note in notes:
        turns[-1].append(note)
        if note.breath_after:
            turns.append([])
    return [_with_a_start(turn) for turn in turns if turn]


def _with_a_start(turn: Sequence[Note]) -> Turn:
    """A slur needs a note to come from, and the other's won't do."""
    first, *others = turn
    start = Start.TONGUED if first.start is Start.SLURRED else first.start
    return (replace(first, start=start), *others)


def _handed_over(turn: Turn) -> Turn:
    """The partner breathes at the end of its turn, and leaves the student room to come in."""
    *others, last = turn
    return (*others, replace(last, breath_after=True))


def _twice(turns: Iterable[Turn], bar: int) -> tuple[list[Turn], list[Turn]]:
    """Each turn called and then answered, both as many whole bars as it touches."""
    called: list[Turn] = []
    answers: list[Turn] = []
    cursor = 0
    for turn in turns:
        begin = floor(turn[0].beat) // bar * bar
        last = turn[-1]
        beats = ceil((last.beat + last.length - begin) / bar) * bar
        called.append(_moved(turn, cursor - begin))
        answers.append(_moved(turn, cursor + beats - begin))
        cursor += 2 * beats
    return called, answers


def _moved(turn: Turn, beats: int) -> Turn:
    return tuple(replace(note, beat=note.beat + Fraction(beats)) for note in turn)


def _numbered(turns: Iterable[Turn], numbers: Iterator[int]) -> tuple[Note, ...]:
    every = (note for turn in turns for note in turn)
    return tuple(replace(note, index=next(numbers)) for note in every)
