"""Places to breathe: between a note and the next, marked on the note before."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Container, Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from math import ceil

from trainer.music.layout import End, turning_note, turning_notes
from trainer.music.note import Note

COMFORTABLE_PHRASE_S = 9.0
"""A phrase most students play on one breath, in seconds: from memory, no source; a setting."""

_SHORTEST_SHARE = Fraction(1, 4)
"""A turning note nearer to either end of its phrase than this share is no place to breathe."""


def breaths_before_beats(
    notes: Sequence[Note], beats: Iterable[Fraction | int]
) -> tuple[Note, ...]:
    """A breath before the note that starts on (or next after) each beat, counted from 0.

    Breaths already marked stay, here and in the other functions.
    """
    starts = [note.beat for note in notes]
    return _marked(notes, {bisect_left(starts, beat) - 1 for beat in beats})


def breaths_every(notes: Sequence[Note], beats: int) -> tuple[Note, ...]:
    """A breath after every so many beats, but none before the last note.

    Raises ValueError for less than a beat.
    """
    if beats < 1:
        raise ValueError(f"a breath every {beats} beats: write 1 or more")
    return breaths_before_beats(notes, range(beats, ceil(notes[-1].beat), beats))


def breaths_at_turns(notes: Sequence[Note], ends: Iterable[End] = tuple(End)) -> tuple[Note, ...]:
    """A breath after the turning note at each of these ends."""
    pitches = [note.pitch for note in notes]
    turns = (turning_note(pitches, end) for end in ends)
    return _marked(notes, {place for place in turns if place is not None})


def breaths_for_tempo(
    notes: Sequence[Note], tempo_bpm: float, longest_phrase_s: float = COMFORTABLE_PHRASE_S
) -> tuple[Note, ...]:
    """As many breaths as the tempo calls for: at turning notes first, then on beats.

    A phrase longer than `longest_phrase_s` is divided at the turning note nearest to its middle,
    or, where none is near enough, before the beat nearest to its middle; and so on with its parts.
    """
    longest_beats = longest_phrase_s * tempo_bpm / 60
    turns = turning_notes([note.pitch for note in notes])
    marked = [place for place, note in enumerate(notes[:-1]) if note.breath_after]
    edges = [-1, *marked, len(notes) - 1]
    return _marked(
        notes,
        {
            place
            for before, last in pairwise(edges)
            for place in _divisions(notes, before + 1, last, turns, longest_beats)
        },
    )


def _divisions(
    notes: Sequence[Note], first: int, last: int, turns: Sequence[int], longest_beats: float
) -> Iterator[int]:
    """Places after which to breathe between two notes, so that no phrase is too long."""
    start, end = notes[first].beat, _end(notes[last])
    if end - start <= longest_beats:
        return
    margin = (end - start) * _SHORTEST_SHARE
    near_turns = [
        place
        for place in turns
        if first <= place < last and start + margin <= _end(notes[place]) <= end - margin
    ]
    on_beats = [place for place in range(first, last) if notes[place + 1].beat % 1 == 0]
    choices = near_turns or on_beats
    if not choices:
        return
    middle = min(choices, key=lambda place: abs(_end(notes[place]) - (start + end) / 2))
    yield middle
    yield from _divisions(notes, first, middle, turns, longest_beats)
    yield from _divisions(notes, middle + 1, last, turns, longest_beats)


def _end(note: Note) -> Fraction:
    return note.beat + note.length


def _marked(notes: Sequence[Note], places: Container[int]) -> tuple[Note, ...]:
    """The notes with breaths after those at the places too; there is none after the last."""
    last = len(notes) - 1
    return tuple(
        replace(note, breath_after=True) if place in places and place < last else note
        for place, note in enumerate(notes)
    )
