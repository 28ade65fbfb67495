"""Breaking a round's music into systems: one line of music each, spaced to the beat."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import accumulate, pairwise

from trainer.music.bars import COMMON_TIME, Bars, BarSpan
from trainer.music.note import Note
from trainer.routine.round import Round
from trainer.screens.drawing.accidentals import accidentals
from trainer.screens.drawing.note_values import WrittenRound, written
from trainer.screens.drawing.scale import COMPACT, StaffScale
from trainer.screens.drawing.signatures import Signatures, change, opening

FINEST_GRID = 24
"""Beats are cut into at most so many even columns; odder divisions are rounded."""


_COMMON_BARS = Bars(COMMON_TIME)


@dataclass(frozen=True)
class System:
    """One line of music."""

    notes: tuple[Note, ...]
    start: Fraction
    """Beat, counted from the round's first."""
    beats: Fraction
    left: int
    """Column of its first beat."""
    beat_columns: int
    bars: Bars = _COMMON_BARS
    """Of the whole round."""
    changes: tuple[tuple[Fraction, Signatures, int], ...] = ()
    """(beat, what is drawn before it, in so many columns): where a signature changes, as far as
    its end, behind whose bar line a change is foretold."""
    held: Note | None = None
    """A note begun in an earlier system and held into this one."""
    bar_rooms: tuple[tuple[Fraction, int], ...] = ()
    """(beat, columns): bar lines that need room of their own, as beside a flag or an accidental."""

    @property
    def sounding(self) -> tuple[Note, ...]:
        """Every note that sounds in this system."""
        return self.notes if self.held is None else (self.held, *self.notes)

    @property
    def end(self) -> Fraction:
        """The beat after its last."""
        return self.start + self.beats

    @property
    def right(self) -> int:
        """Column after its last beat."""
        return self.column(self.end)

    def column(self, beat: Fraction | float) -> int:
        """Where a beat stands; a note's head begins one column later."""
        signatures = sum(room for at, _, room in self.changes if at <= beat)
        return self._evenly(beat) + signatures + self.bar_columns(self.start, beat)

    def column_before(self, beat: Fraction | float) -> int:
        """The same, before a signature that changes there; behind its bar line."""
        signatures = sum(room for at, _, room in self.changes if at < beat)
        return self._evenly(beat) + signatures + self.bar_columns(self.start, beat)

    def bar_columns(self, after: Fraction | float, beat: Fraction | float) -> int:
        """Columns added by the bar lines after one place and up to another."""
        return sum(room for at, room in self.bar_rooms if after < at <= beat)

    def _evenly(self, beat: Fraction | float) -> int:
        """In whole numbers: every sign asks, and fractions took a third of the time of a staff."""
        over, parts = beat.as_integer_ratio()
        begins, begins_parts = self.start.as_integer_ratio()
        passed = over * begins_parts - begins * parts
        return self.left + round(passed * self.beat_columns / (parts * begins_parts))

    @property
    def counted(self) -> Iterator[Fraction]:
        """Every beat of its bars; a cadenza has none."""
        for bar in self.bars.until(self.end):
            place = bar.begins
            while place < bar.ends and not bar.free:
                if self.holds(place):
                    yield place
                place += bar.beat

    def holds(self, beat: Fraction | float) -> bool:
        """Whether a moment of the round falls into this system."""
        return self.start <= beat < self.end


def systems(round_: Round, width: int, scale: StaffScale = COMPACT) -> tuple[System, ...]:
    """The round's notes in as few systems as fit into the width, broken at bars where that goes."""
    notes, bars = round_.printed, round_.bars
    left = max(_opening_columns(bars, bar, scale) for bar in _signed(round_))
    music = written(round_)
    signs = accidentals(notes, bars, frozenset())
    needed = _needed(round_, music, signs, scale)
    left += needed.beyond_usual
    room = max(1, width - left - 1)
    changes = _changes(round_, scale)
    widest = max((columns for _, _, columns in changes), default=0)
    beat_columns = _narrowest_beat(needed, max(1, room - widest), scale)
    needs = _bar_line_needs(round_, music, signs, scale)
    crowded = tuple(need for need in needs if need.room(beat_columns, goes_on=True))
    line = _OneLine(_Notes(notes), bars, changes, room, beat_columns, crowded)
    ends = line.ends(round_.beats)
    spans = list(pairwise((Fraction(0), *ends)))
    rooms = [
        (room - line.taken(start, after)) // math.ceil(after - start) for start, after in spans
    ]
    beat_columns = _roomiest_beat(needed, min(rooms), scale, beat_columns)
    line = replace(line, beat_columns=beat_columns)
    return tuple(
        System(
            notes=line.notes.within(start, after),
            start=start,
            beats=after - start,
            left=left,
            beat_columns=beat_columns,
            bars=bars,
            changes=tuple(change for change in changes if start < change[0] <= after),
            held=line.notes.held(start),
            bar_rooms=line.bar_rooms(start, after),
        )
        for start, after in spans
    )


def _signed(round_: Round) -> list[BarSpan]:
    """The first bar, and those that begin with another signature."""
    changed = [round_.bars.at(one.beat) for one in round_.changes if one.beat < round_.beats]
    return [round_.bars.at(0), *changed]


def _opening_columns(bars: Bars, bar: BarSpan, scale: StaffScale) -> int:
    return scale.clef + opening(bars, bar, begins=True).columns(scale)


def _changes(round_: Round, scale: StaffScale) -> tuple[tuple[Fraction, Signatures, int], ...]:
    drawn = [(bar.begins, change(round_.bars, bar)) for bar in _signed(round_)[1:]]
    return tuple((beat, signs, signs.columns(scale)) for beat, signs in drawn if signs is not None)


@dataclass(frozen=True)
class _BarLineNeed:
    """What stands on both sides of a bar line."""

    beat: Fraction
    before: Fraction
    """Beats from the last sign before it."""
    columns: int
    """That this sign needs to what comes after the line."""
    accidental: int
    """Columns of an accidental right behind it."""

    def room(self, beat_columns: int, *, goes_on: bool) -> int:
        """Columns it needs beyond those of the beats; `goes_on`: what follows stands behind it."""
        needed = self.columns + self.accidental * goes_on
        return max(0, needed - math.floor(self.before * beat_columns))


def _bar_line_needs(
    round_: Round, music: WrittenRound, signs: Mapping[int, str], scale: StaffScale
) -> tuple[_BarLineNeed, ...]:
    """Of every bar line; none where its scale asks for nothing."""
    if not scale.to_bar_line:
        return ()
    signed, flagged = _signed_beats(music, signs), _flagged_beats(music)
    beats = sorted({part.beat for part in music.parts} | {rest.beat for rest in music.rests})
    lines = [bar.ends for bar in round_.bars.until(round_.beats)]
    needs = []
    for line in lines:
        last = beats[max(0, bisect_left(beats, line) - 1)]
        columns = scale.to_bar_line + scale.flag * (last in flagged)
        accidental = scale.accidental * (line in signed)
        needs.append(_BarLineNeed(line, line - last, columns, accidental))
    return tuple(needs)


def _signed_beats(music: WrittenRound, signs: Mapping[int, str]) -> set[Fraction]:
    """Where accidentals are written."""
    return {p.beat for p in music.parts if p.note.index in signs and not p.symbol.tied_back}


def _flagged_beats(music: WrittenRound) -> set[Fraction]:
    """Where flags are."""
    return {p.beat for p in music.parts if p.symbol.flags and not p.is_beamed}


@dataclass(frozen=True)
class _Needed:
    """What a round's signs ask of the columns."""

    has_accidentals: bool
    beyond_usual: int
    """Columns by which the widest accidental, a double flat, is wider than others."""
    closest: Fraction
    """The least distance in beats of two signs, or of one and the bar line after it."""
    grid: int
    """Into how many even parts a beat is cut."""
    longest_bar: Fraction
    """In beats."""
    beside_flags: tuple[tuple[Fraction, int], ...] = ()
    """(beats, columns): what flags ask for up to what follows them in their bar."""


def _needed(
    round_: Round, music: WrittenRound, signs: Mapping[int, str], scale: StaffScale
) -> _Needed:
    """The second half of a tie is written too."""
    rests = [rest.beat for rest in music.rests if not rest.whole_bar and rest.beat < round_.beats]
    bars = [bar.begins for bar in round_.bars.until(round_.beats)]
    beats = [*(part.beat for part in music.parts), *rests, *bars, Fraction(round_.beats)]
    grid = math.lcm(*(beat.denominator for beat in beats))
    places = sorted({beat.numerator * (grid // beat.denominator) for beat in beats})
    closest = min([grid, *(after - place for place, after in pairwise(places))])
    return _Needed(
        has_accidentals=bool(signs),
        beyond_usual=(max(map(len, signs.values()), default=1) - 1) * math.ceil(scale.flat),
        closest=Fraction(closest, grid),
        grid=grid if grid <= FINEST_GRID else 1,
        longest_bar=max(bar.ends - bar.begins for bar in _signed(round_)),
        beside_flags=tuple(_beside_flags(sorted(set(beats)), set(bars), music, signs, scale)),
    )


def _beside_flags(
    beats: Sequence[Fraction],
    bars: set[Fraction],
    music: WrittenRound,
    signs: Mapping[int, str],
    scale: StaffScale,
) -> Iterator[tuple[Fraction, int]]:
    """None where a flag is no wider than its head."""
    signed, flagged = _signed_beats(music, signs), _flagged_beats(music)
    for beat, after in pairwise(beats):
        if scale.flag and beat in flagged and after not in bars:
            note_columns = scale.roomy_note if after in signed else scale.bare_note
            yield after - beat, note_columns + scale.flag


def _narrowest_beat(needed: _Needed, room: int, scale: StaffScale) -> int:
    """Columns of a beat with room for each sign that is written, and for a whole bar if it goes."""
    roomy = scale.roomy_note + needed.beyond_usual
    least = roomy if needed.has_accidentals else scale.bare_note

    def columns(note_columns: int, beside: Sequence[tuple[Fraction, int]] = ()) -> int:
        close = [
            math.ceil(asked / beats) for beats, asked in ((needed.closest, note_columns), *beside)
        ]
        return math.ceil(max(scale.narrowest_beat, *close) / needed.grid) * needed.grid

    for beside in (needed.beside_flags, ()):
        for note_columns in range(roomy, least - 1, -1):
            if columns(note_columns, beside) * needed.longest_bar <= room:
                return columns(note_columns, beside)
    fitting = (columns(each) for each in range(roomy, 0, -1) if columns(each) <= room)
    return next(fitting, room)


def _roomiest_beat(needed: _Needed, room: int, scale: StaffScale, least: int) -> int:
    """As wide as its system allows, up to the widest note."""
    roomy = max(1, min(room, max(math.floor(scale.widest_note / needed.closest), least)))
    return max(1, roomy - roomy % needed.grid or roomy)


@dataclass(frozen=True)
class _Notes:
    """A round's notes in the order they begin, to be looked up by their beats."""

    notes: tuple[Note, ...]

    def held(self, beat: Fraction) -> Note | None:
        """The note that is in the middle of sounding at a beat."""
        first = bisect_left(self._begins, beat)
        if first == 0 or self._sounds_until[first - 1] <= beat:
            return None
        return next(
            (n for n, end in zip(self.notes[:first], self._ends, strict=False) if end > beat), None
        )

    def within(self, start: Fraction, end: Fraction) -> tuple[Note, ...]:
        """The notes that begin there."""
        return self.notes[bisect_left(self._begins, start) : bisect_left(self._begins, end)]

    def count_from(self, beat: Fraction) -> int:
        """How many begin there or later."""
        return len(self.notes) - bisect_left(self._begins, beat)

    @cached_property
    def _begins(self) -> list[Fraction]:
        return [note.beat for note in self.notes]

    @cached_property
    def _ends(self) -> list[Fraction]:
        return [note.beat + note.length for note in self.notes]

    @cached_property
    def _sounds_until(self) -> list[Fraction]:
        """The latest end of each note and all before it."""
        return list(accumulate(self._ends, max))


@dataclass(frozen=True)
class _OneLine:
    """A round's music as one long line, to be broken into systems."""

    notes: _Notes
    bars: Bars
    changes: tuple[tuple[Fraction, Signatures, int], ...]
    room: int
    """Columns of a system."""
    beat_columns: int
    crowded: tuple[_BarLineNeed, ...]
    """Bar lines that the beats alone may leave too little room."""

    def ends(self, end: Fraction) -> tuple[Fraction, ...]:
        """Where systems end: as few as can be, of nearly the same length.

        Between whole bars where they fit, else between even parts of a bar; no held note is cut
        where that can be, and a last note that fits behind a bar never stands alone.
        """
        places = [place for place in self._places(end) if 0 < place < end]
        uncut = [beat for beat in places if self.notes.held(beat) is None]
        most = max(1, self.room // self.beat_columns)
        for allowed in (uncut, places):
            fewest = self._broken(allowed, end, most)
            if fewest is not None:
                least = math.ceil(end / len(fewest))
                tighter = (self._broken(allowed, end, beats) for beats in range(least, most))
                even = (ends for ends in tighter if ends is not None and len(ends) == len(fewest))
                return self._with_last_note(next(even, fewest))
        return (*places, end)

    def taken(self, start: Fraction, end: Fraction) -> int:
        """Columns that changing signatures and bar lines take in a system."""
        signatures = sum(room for beat, _, room in self.changes if start < beat <= end)
        return signatures + sum(room for _, room in self.bar_rooms(start, end))

    def bar_rooms(self, start: Fraction, end: Fraction) -> tuple[tuple[Fraction, int], ...]:
        """As its system has them; an accidental that another system begins with needs none."""
        rooms = (
            (need.beat, need.room(self.beat_columns, goes_on=need.beat < end))
            for need in self.crowded
            if start < need.beat <= end
        )
        return tuple((beat, room) for beat, room in rooms if room)

    def _places(self, end: Fraction) -> Iterator[Fraction]:
        """Where systems may be parted."""
        for bar in self.bars.until(end):
            if self._fits(bar.begins, bar.ends):
                yield bar.ends
                continue
            count = math.ceil((bar.ends - bar.begins) / bar.beat)
            fitting = [
                beats
                for beats in range(count, 0, -1)
                if self._fits(bar.begins, bar.begins + beats * bar.beat)
            ]
            step = next((beats for beats in fitting if count % beats == 0), 1)
            inside = range(step, count, step)
            yield from (bar.begins + beats * bar.beat for beats in inside)
            yield bar.ends

    def _fits(self, start: Fraction, end: Fraction, most: int | None = None) -> bool:
        """`most`: into so many whole beats, where it is to be tighter than the room."""
        beats = end - start if most is None else math.ceil(end - start)
        tight = most is None or beats <= most
        return tight and beats * self.beat_columns + self.taken(start, end) <= self.room

    def _with_last_note(self, ends: tuple[Fraction, ...]) -> tuple[Fraction, ...]:
        """The bar before moves on to a last system that would hold a single note; where that note
        fills no bar, half of it or a beat may. What stays behind is no single note either.
        """
        if len(ends) == 1 or self.notes.count_from(ends[-2]) != 1:
            return ends
        before, last, end = (Fraction(0), *ends)[-3:]
        bar = self.bars.at(last - Fraction(1, 1000))
        count = math.ceil((bar.ends - bar.begins) / bar.beat)
        half = (count // 2 if count % 2 == 0 else 1) * bar.beat
        lone = self.bars.at(last)
        whole = lone.begins == last and lone.ends <= end
        for moved in (bar.begins, *((last - half, last - bar.beat) * (not whole))):
            several = self.notes.count_from(moved) > 1 < len(self.notes.within(before, moved))
            fits = self._fits(moved, end, max(1, self.room // self.beat_columns))
            if several and fits and moved > before and self.notes.held(moved) is None:
                return (*ends[:-2], moved, end)
        return ends

    def _broken(
        self, places: Sequence[Fraction], end: Fraction, most: int
    ) -> tuple[Fraction, ...] | None:
        """The farthest places that keep every system so short; None where one would be longer."""
        ends: list[Fraction] = []
        start = Fraction(0)
        while not self._fits(start, end, most):
            within = [place for place in places if start < place and self._fits(start, place, most)]
            if not within:
                return None
            start = within[-1]
            ends.append(start)
        return (*ends, end)
