"""Ways of practising a line: from its end, growing, in loops, group by group, slowly first.

Each makes of a round the rounds that are played for it. The ways are those of ordinary lessons
(common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from math import ceil, floor

from trainer.music.articulations import articulated
from trainer.music.note import Articulation, Note, Start
from trainer.routine.round import Round

SLOWLY = 0.6
"""Share of the tempo at which a line is played before it is played in time. Our own choice."""
EASY = 0.75
"""... and of an easy round between two hard ones."""
MOST_SINGLE_NOTES = 32
"""A longer line grows by beats: note by note it would take too long. Our own choice."""


class Stretch(StrEnum):
    """What is added or repeated as one."""

    NOTE = "note"
    BEAT = "beat"
    BAR = "bar"


@dataclass(frozen=True)
class Backwards:
    """The last bar, the last two, and so on to the whole."""


@dataclass(frozen=True)
class Growing:
    """The beginning, a stretch longer each time, up to the whole, in one round."""

    by: Stretch


@dataclass(frozen=True)
class Loop:
    """Some bars over and over, in one round."""

    first_bar: int
    """From 1."""
    last_bar: int
    times: int


@dataclass(frozen=True)
class EachStretch:
    """Each beat or bar so often before the next, in one round."""

    of: Stretch
    times: int


@dataclass(frozen=True)
class SlowThenInTime:
    """Each round first slowly."""


@dataclass(frozen=True)
class HardAndEasy:
    """After each round an easy one: slurred, and slower."""


PracticeWay = Backwards | Growing | Loop | EachStretch | SlowThenInTime | HardAndEasy


def practised(round_: Round, way: PracticeWay) -> tuple[Round, ...]:
    """The rounds that are played for one; their numbers are still its own.

    Raises ValueError in a plain sentence where the line has no such bars.
    """
    match way:
        case Backwards():
            return tuple(_from_the_end(round_))
        case Growing(by=by):
            return (_one_round(round_, list(_grown(round_, by)), f"a {by} more each time"),)
        case Loop():
            return (_looped(round_, way),)
        case EachStretch(of=of, times=times):
            parts = [part for part in _stretches(round_, of) for _ in range(times)]
            return (_one_round(round_, parts, f"each {of} {times} times", apart=False),)
        case SlowThenInTime():
            slow = float(round(SLOWLY * round_.tempo_bpm))
            return (replace(round_, tempo_bpm=slow), round_)
        case HardAndEasy():
            easy = articulated(round_.notes, Articulation.SLURRED)
            slower = float(round(EASY * round_.tempo_bpm))
            return (
                round_,
                replace(round_, notes=easy, articulation=Articulation.SLURRED, tempo_bpm=slower),
            )


def bars_of(round_: Round) -> int:
    """How many bars the round's notes begin in; an upbeat is none."""
    last = floor(round_.notes[-1].beat) // round_.beats_per_bar
    return 1 + last - _upbeat_bars(round_)


def _upbeat_bars(round_: Round) -> int:
    return 1 if round_.upbeat_beats else 0


def _from_the_end(round_: Round) -> Iterator[Round]:
    bars = bars_of(round_) + _upbeat_bars(round_)
    for count in range(1, bars):
        first = (bars - count) * round_.beats_per_bar
        notes = [note for note in round_.notes if note.beat >= first]
        if notes and len(notes) < len(round_.notes):
            name = "last bar" if count == 1 else f"last {count} bars"
            yield _begun_in_its_tempo(
                replace(
                    round_,
                    title=f"{round_.title}, {name}",
                    notes=_numbered([_moved(notes, -first)]),
                    ends_on_beat=max(Fraction(0), round_.ends_on_beat - first),
                    upbeat_beats=Fraction(0),
                )
            )
    yield round_


def _grown(round_: Round, by: Stretch) -> Iterator[Sequence[Note]]:
    notes = round_.notes
    if by is Stretch.NOTE and len(notes) <= MOST_SINGLE_NOTES:
        yield from (notes[:count] for count in range(2, len(notes) + 1))
        return
    beats = round_.beats_per_bar if by is Stretch.BAR else 1
    ends = dict.fromkeys(floor(note.beat) // beats for note in notes)
    yield from ([note for note in notes if floor(note.beat) // beats <= end] for end in ends)


def _stretches(round_: Round, of: Stretch) -> list[Sequence[Note]]:
    beats = round_.beats_per_bar if of is Stretch.BAR else 1
    found: dict[int, list[Note]] = {}
    for note in round_.notes:
        found.setdefault(floor(note.beat) // beats, []).append(note)
    return list(found.values())


def _looped(round_: Round, way: Loop) -> Round:
    bar = round_.beats_per_bar
    before = _upbeat_bars(round_)
    first, end = (way.first_bar - 1 + before) * bar, (way.last_bar + before) * bar
    notes = [note for note in round_.notes if first <= note.beat < end]
    if not notes or way.last_bar > bars_of(round_):
        raise ValueError(f"there are {bars_of(round_)} bars, so no bar {way.last_bar} to loop")
    once = _moved(
        [replace(note, length=min(note.length, end - note.beat)) for note in notes], -first
    )
    parts = [_moved(once, turn * (end - first)) for turn in range(way.times)]
    bars = f"bar {way.first_bar}"
    if way.last_bar != way.first_bar:
        bars = f"bars {way.first_bar} to {way.last_bar}"
    return _begun_in_its_tempo(
        replace(
            round_,
            title=f"{round_.title}, {bars}",
            notes=_numbered(parts),
            ends_on_beat=Fraction(way.times * (end - first)),
            upbeat_beats=Fraction(0),
        )
    )


def _begun_in_its_tempo(round_: Round) -> Round:
    """A part that begins after a change of tempo is counted in at the tempo it begins in."""
    share = round_.notes[0].tempo_share
    if share == 1:
        return round_
    notes = tuple(replace(note, tempo_share=note.tempo_share / share) for note in round_.notes)
    return replace(round_, notes=notes, tempo_bpm=round_.tempo_bpm * share)


def _one_round(
    round_: Round, parts: Sequence[Sequence[Note]], name: str, *, apart: bool = True
) -> Round:
    """The parts one after the other on the beat; `apart`: with a rest for a breath between."""
    cursor = Fraction(0)
    placed: list[Sequence[Note]] = []
    for part in parts:
        begin = floor(part[0].beat)
        moved = _moved(part, cursor - begin)
        last = replace(moved[-1], breath_after=moved[-1].breath_after or apart)
        placed.append([*moved[:-1], last])
        cursor = Fraction(ceil(last.beat + last.length) + apart)
    return replace(
        round_,
        title=f"{round_.title}, {name}",
        notes=_numbered(placed),
        ends_on_beat=Fraction(0),
        upbeat_beats=Fraction(0),
    )


def _moved(notes: Iterable[Note], beats: Fraction | int) -> list[Note]:
    return [replace(note, beat=note.beat + beats) for note in notes]


def _numbered(parts: Sequence[Sequence[Note]]) -> tuple[Note, ...]:
    """All notes in order; the first of a part can't be slurred from one that isn't there."""
    result: list[Note] = []
    for part in parts:
        for place, note in enumerate(part):
            first = place == 0 and note.start is Start.SLURRED
            start = Start.TONGUED if first else note.start
            result.append(replace(note, index=len(result), start=start))
    return (*result[:-1], replace(result[-1], breath_after=False))


def each_practised(rounds: Sequence[Round], ways: Sequence[PracticeWay]) -> tuple[Round, ...]:
    """Every round as it is practised, numbered in order; without a way as it stands."""
    found = list(rounds)
    for way in ways:
        found = [made for round_ in found for made in practised(round_, way)]
    return tuple(replace(round_, number=number) for number, round_ in enumerate(found, start=1))
