"""Ways of practising a line: from its end, growing, in loops, group by group, slowly first.

Each makes of a round the rounds that are played for it. The ways are those of ordinary lessons
(common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from trainer.music.articulations import articulated
from trainer.music.bars import BarSpan, count_in_of
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
            return (_one_round(round_, list(_grown(round_, by)), way_in_words(way)),)
        case Loop():
            return (_looped(round_, way),)
        case EachStretch(of=of, times=times):
            parts = [part for part in _stretches(round_, of) for _ in range(times)]
            return (_one_round(round_, parts, way_in_words(way), apart=False),)
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


def way_in_words(way: PracticeWay) -> str:
    """What the student reads: 'backwards', 'bars 3 to 4 looped 4 times'."""
    match way:
        case Backwards():
            return "backwards"
        case Growing(by=by):
            return f"a {by} more each time"
        case Loop(times=times):
            return f"{_bars_named(way)} looped {times} times"
        case EachStretch(of=of, times=times):
            return f"each {of} {times} times"
        case SlowThenInTime():
            return "slow, then in time"
        case HardAndEasy():
            return "hard and easy in turns"


def bars_of(round_: Round) -> int:
    """How many bars the round's notes begin in; an upbeat is none."""
    return 1 + round_.bars.at(round_.notes[-1].beat).number - _upbeat_bars(round_)


def _upbeat_bars(round_: Round) -> int:
    return 1 if round_.upbeat_beats else 0


def _from_the_end(round_: Round) -> Iterator[Round]:
    bars = _bars_with_notes(round_)
    for count, bar in enumerate(reversed(bars[1:]), start=1):
        rest = cut_out(round_, bar.begins, round_.beats)
        if rest is not None and len(rest.notes) < len(round_.notes):
            name = "last bar" if count == 1 else f"last {count} bars"
            yield begun_in_its_own(replace(rest, title=f"{round_.title}, {name}"))
    yield round_


def cut_out(round_: Round, begins: Fraction, ends: Fraction) -> Round | None:
    """What begins between two places, counted from the first of them; None where nothing does."""
    notes = [note for note in round_.notes if begins <= note.beat < ends]
    if not notes:
        return None
    end = max(round_.ends_on_beat, begins) if ends == round_.beats else ends
    return replace(
        round_,
        notes=numbered([moved(notes, -begins)]),
        ends_on_beat=end - begins,
        upbeat_beats=Fraction(0) if begins else round_.upbeat_beats,
        changes=round_.bars.rearranged([(begins, ends, Fraction(0))]).changes,
    )


def _bars_with_notes(round_: Round) -> list[BarSpan]:
    return list(round_.bars.until(round_.notes[-1].beat + Fraction(1, 1000)))


def _grown(round_: Round, by: Stretch) -> Iterator[Sequence[Note]]:
    notes = round_.notes
    if by is Stretch.NOTE and len(notes) <= MOST_SINGLE_NOTES:
        yield from (notes[:count] for count in range(2, len(notes) + 1))
        return
    places = [_place(round_, note, by) for note in notes]
    for end in dict.fromkeys(places):
        yield [note for note, place in zip(notes, places, strict=True) if place <= end]


def _stretches(round_: Round, of: Stretch) -> list[Sequence[Note]]:
    found: dict[Fraction, list[Note]] = {}
    for note in round_.notes:
        found.setdefault(_place(round_, note, of), []).append(note)
    return list(found.values())


def _place(round_: Round, note: Note, of: Stretch) -> Fraction:
    """Where the bar or the beat begins in which the note does."""
    bar = round_.bars.at(note.beat)
    if of is Stretch.BAR:
        return bar.begins
    return bar.begins + (note.beat - bar.begins) // bar.beat * bar.beat


def _looped(round_: Round, way: Loop) -> Round:
    if way.last_bar > bars_of(round_):
        raise ValueError(f"there are {bars_of(round_)} bars, so no bar {way.last_bar} to loop")
    before = _upbeat_bars(round_)
    bars = _bars_with_notes(round_)
    first, end = bars[way.first_bar - 1 + before].begins, bars[way.last_bar - 1 + before].ends
    notes = [note for note in round_.notes if first <= note.beat < end]
    if not notes:
        raise ValueError(f"nothing is played in {_bars_named(way)}")
    once = moved(
        [replace(note, length=min(note.length, end - note.beat)) for note in notes], -first
    )
    parts = [moved(once, turn * (end - first)) for turn in range(way.times)]
    pieces = [(first, end, turn * (end - first)) for turn in range(way.times)]
    looped = replace(
        round_,
        title=f"{round_.title}, {_bars_named(way)}",
        notes=numbered(parts),
        ends_on_beat=way.times * (end - first),
        upbeat_beats=Fraction(0),
        changes=round_.bars.rearranged(pieces).changes,
    )
    return begun_in_its_own(looped)


def _bars_named(way: Loop) -> str:
    if way.last_bar == way.first_bar:
        return f"bar {way.first_bar}"
    return f"bars {way.first_bar} to {way.last_bar}"


def begun_in_its_own(round_: Round) -> Round:
    """A part that begins after a change is counted in at the tempo and in the time it begins in."""
    share = round_.notes[0].tempo_share
    if share != 1:
        notes = tuple(replace(note, tempo_share=note.tempo_share / share) for note in round_.notes)
        round_ = replace(round_, notes=notes, tempo_bpm=round_.tempo_bpm * share)
    if not round_.changes or round_.changes[0].beat:
        return round_
    first, *others = round_.changes
    longer = first.meter.beat_quarters / round_.beat_quarters
    return replace(
        round_,
        notes=tuple(
            replace(note, beat=note.beat / longer, length=note.length / longer)
            for note in round_.notes
        ),
        tempo_bpm=round_.tempo_bpm / float(longer),
        ends_on_beat=round_.ends_on_beat / longer,
        beats_per_bar=first.meter.beats_per_bar,
        beat_quarters=first.meter.beat_quarters,
        count_in_beats=count_in_of(first.meter),
        key=first.key,
        changes=tuple(replace(change, beat=change.beat / longer) for change in others),
    )


def _one_round(
    round_: Round, parts: Sequence[Sequence[Note]], name: str, *, apart: bool = True
) -> Round:
    """The parts one after the other on the beat; `apart`: with a rest for a breath between."""
    cursor = Fraction(0)
    placed: list[Sequence[Note]] = []
    pieces: list[tuple[Fraction, Fraction, Fraction]] = []
    for part in parts:
        begin = _place(round_, part[0], Stretch.BEAT)
        end = round_.bars.beat_ends(part[-1].beat + part[-1].length)
        here = moved(part, cursor - begin)
        last = replace(here[-1], breath_after=here[-1].breath_after or apart)
        placed.append([*here[:-1], last])
        pieces.append((begin, end, cursor))
        cursor += end - begin + apart
    return replace(
        round_,
        title=f"{round_.title}, {name}",
        notes=numbered(placed),
        ends_on_beat=Fraction(0),
        upbeat_beats=Fraction(0),
        changes=round_.bars.rearranged(pieces).changes,
    )


def moved(notes: Iterable[Note], beats: Fraction | int) -> list[Note]:
    """The notes so many beats later."""
    return [replace(note, beat=note.beat + beats) for note in notes]


def numbered(parts: Sequence[Sequence[Note]]) -> tuple[Note, ...]:
    """All notes in order; the first of a part can't be slurred from one that isn't there."""
    result: list[Note] = []
    for part in parts:
        for place, note in enumerate(part):
            first = place == 0 and note.start is Start.SLURRED
            start = Start.TONGUED if first else note.start
            result.append(replace(note, index=len(result), start=start))
    return (*result[:-1], replace(result[-1], breath_after=False))


def each_practised(rounds: Sequence[Round], ways: Sequence[PracticeWay]) -> tuple[Round, ...]:
    """Every round in time as it is practised, numbered in order; without a way as it stands."""
    found = list(rounds)
    for way in ways:
        found = [
            made
            for round_ in found
            for made in (practised(round_, way) if round_.in_time else (round_,))
        ]
    return tuple(replace(round_, number=number) for number, round_ in enumerate(found, start=1))
