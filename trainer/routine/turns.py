"""Notes shared out between partner and student, who play in turns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import count

from trainer.music.bars import Bars
from trainer.music.note import Note, Start
from trainer.routine.practice_way import moved

Turn = tuple[Note, ...]


def shared_out(
    notes: Sequence[Note], bars: Bars, turn_bars: int, *, answered: bool
) -> tuple[tuple[Note, ...], tuple[Note, ...], Bars]:
    """The student's notes and the partner's, numbered in that order, and the bars they stand in;
    both have some.

    A turn lasts so many bars; 0: a phrase, up to its breath. `answered`: each turn comes twice,
    from the partner and then from the student, and later turns move back to make room. Otherwise
    the student has every second turn; where there is only one, it is played back.
    """
    turns = _by_bars(notes, bars, turn_bars) if turn_bars else _by_breaths(notes)
    if answered or len(turns) < 2:
        partners, own, bars = _twice(turns, bars)
    else:
        partners, own = turns[::2], turns[1::2]
    partners = [_handed_over(turn) for turn in partners]
    numbers = count()
    return _numbered(own, numbers), _numbered(partners, numbers), bars


def _by_bars(notes: Sequence[Note], bars: Bars, count: int) -> list[Turn]:
    """Notes by the bars they begin in; held no longer than those last."""
    ends: dict[int, Fraction] = {}
    for bar in bars.until(notes[-1].beat + notes[-1].length):
        ends[bar.number // count] = bar.ends
    turns: dict[int, list[Note]] = {}
    for note in notes:
        place = bars.at(note.beat).number // count
        length = min(note.length, ends[place] - note.beat)
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


def _twice(turns: Iterable[Turn], bars: Bars) -> tuple[list[Turn], list[Turn], Bars]:
    """Each turn called and then answered, both as many whole bars as it touches."""
    called: list[Turn] = []
    answers: list[Turn] = []
    pieces: list[tuple[Fraction, Fraction, Fraction]] = []
    cursor = Fraction(0)
    for turn in turns:
        begin = bars.at(turn[0].beat).begins
        *_, last_bar = bars.until(turn[-1].beat + turn[-1].length)
        for told in (called, answers):
            told.append(tuple(moved(turn, cursor - begin)))
            pieces.append((begin, last_bar.ends, cursor))
            cursor += last_bar.ends - begin
    return called, answers, bars.rearranged(pieces)


def _numbered(turns: Iterable[Turn], numbers: Iterator[int]) -> tuple[Note, ...]:
    every = (note for turn in turns for note in turn)
    return tuple(replace(note, index=next(numbers)) for note in every)
