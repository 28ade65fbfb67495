"""The notes of a round as they are written down: bars of note values with ties, dots, tuplets and
beams.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import groupby

from trainer.music.bars import Bars, BarSpan, Meter
from trainer.music.key import Key
from trainer.music.note import Note
from trainer.routine.round import Round

_VALUES = tuple(Fraction(4) / 2**power for power in range(11))
"""Whole note to the smallest that MusicXML has a name for, the 1024th, in quarters."""
_DOTTED = {dots: Fraction(2 ** (dots + 1) - 1, 2**dots) for dots in (0, 1, 2)}
_LONGEST_TUPLET_BEATS = 4
"""A longer one would cross bar lines."""


@dataclass(frozen=True)
class Symbol:
    """One sign on the staff: a note, a part of a tied note, or a rest."""

    note: Note | None
    """None for a rest."""
    onset: Fraction
    """Quarters from the round's first beat."""
    length: Fraction
    """Quarters it lasts."""
    value: Fraction
    """The note value in quarters, before dots and tuplet."""
    dots: int
    ratio: tuple[int, int] = (1, 1)
    """Tuplet: so many in the time of so many."""
    tied_back: bool = False
    tied_on: bool = False
    tuplet_begins: bool = False
    tuplet_ends: bool = False
    beams: tuple[str, ...] = ()
    """For each beam from the outermost: begin, continue, end, forward hook, backward hook."""

    @property
    def flags(self) -> int:
        """Beams or flags its value asks for."""
        return self.value.denominator.bit_length() - 1


@dataclass(frozen=True)
class WrittenBar:
    """One bar on paper."""

    number: int
    """From 1; 0 for an upbeat."""
    symbols: tuple[Symbol, ...]
    time: Meter | None
    """Not None: it begins with this time signature ..."""
    key: Key | None
    """The key whose signature holds in it."""
    key_changes: bool
    """... and with this key's signature."""
    free: bool = False
    """It is a cadenza, out of time."""

    @property
    def silent(self) -> bool:
        """Nothing but rest."""
        return all(symbol.note is None for symbol in self.symbols)


@dataclass(frozen=True)
class _Span:
    """A note or rest inside one bar, before it has a note value."""

    note: Note | None
    onset: Fraction
    end: Fraction
    tied_back: bool = False
    tied_on: bool = False


@dataclass
class _Tuplet:
    """A stretch of beats counted otherwise than in halves."""

    begins: Fraction
    ends: Fraction
    ratio: tuple[int, int] = (1, 1)
    spans: list[_Span] = field(default_factory=list)


def written_bars(round_: Round) -> tuple[WrittenBar, ...]:
    """The round on paper; rests fill it up to where all of its music ends."""
    bars = round_.bars.quarters()
    written: list[WrittenBar] = []
    first = 0 if round_.upbeat_beats else 1
    for bar, spans in _bars_of_spans(round_, bars):
        symbols = [
            symbol
            for stretch in _stretches(spans, bar.begins, bar.beat)
            for symbol in _symbols(stretch, bar.begins, bar.beat)
        ]
        before = bars.before(bar)
        written.append(
            WrittenBar(
                first + bar.number,
                tuple(_beamed(symbols, bar.begins, bar.meter)),
                bar.meter if bar.number == 0 or bar.meter != before.meter else None,
                bar.key,
                bar.number == 0 or bar.key != before.key,
                bar.free,
            )
        )
    return tuple(written)


# Bars and stretches


def _bars_of_spans(round_: Round, bars: Bars) -> list[tuple[BarSpan, list[_Span]]]:
    """The round's bars, counted in quarters as `bars` are, each with what it holds."""
    beat = round_.beat_quarters
    whole: list[_Span] = []
    upbeat = round_.upbeat_beats * beat
    end = bars.at(0).ends - upbeat if upbeat else Fraction(0)
    for note in round_.notes:
        onset = note.beat * beat
        if onset > end:
            whole.append(_Span(None, end, onset))
        end = onset + note.length * beat
        whole.append(_Span(note, onset, end))
    found: list[tuple[BarSpan, list[_Span]]] = [
        (bar, []) for bar in bars.until(max(end, round_.music_beats * beat))
    ]
    last = found[-1][0].ends
    if last > end:
        whole.append(_Span(None, end, last))
    for span in whole:
        for bar, part in _cut(span, bars):
            found[bar.number][1].append(part)
    return found


def _cut(span: _Span, bars: Bars) -> Iterator[tuple[BarSpan, _Span]]:
    """The span in parts that cross no bar line, tied where it is a note."""
    onset, tied_back = span.onset, span.tied_back
    while onset < span.end:
        bar = bars.at(onset)
        end = min(span.end, bar.ends)
        tied_on = span.note is not None and (end < span.end or span.tied_on)
        yield bar, _Span(span.note, onset, end, tied_back, tied_on)
        onset, tied_back = end, span.note is not None


def _stretches(spans: Sequence[_Span], bar_begins: Fraction, beat: Fraction) -> list[_Tuplet]:
    """The bar in stretches: plain tuplets, tuplets of mixed lengths over one to four beats, and
    what lies between them."""
    stretches: list[_Tuplet] = []
    plain = {one.begins: one for one in _plain_tuplets(spans, bar_begins, beat)}
    begins = bar_begins
    while begins < spans[-1].end:
        if begins in plain:
            stretches.append(plain[begins])
            begins = plain[begins].ends
            continue
        limit = min([spans[-1].end, *(place for place in plain if place > begins)])
        ends = min(begins + beat - (begins - bar_begins) % beat, limit)
        odd = _odd(spans, begins, ends)
        if odd > 1:
            while (
                ends < limit
                and ends - begins < _LONGEST_TUPLET_BEATS * beat
                and any(
                    span.onset < ends < span.end and _odd([span], begins, span.end) > 1
                    for span in spans
                    if begins <= span.onset
                )
            ):
                ends = min(ends + beat, limit)
            odd = _odd(spans, begins, ends)
            stretches.append(_Tuplet(begins, ends, _ratio(spans, begins, ends, odd)))
        elif stretches and stretches[-1].ratio == (1, 1):
            stretches[-1].ends = ends
        else:
            stretches.append(_Tuplet(begins, ends))
        begins = ends
    for span in spans:
        for stretch in stretches:
            onset, end = max(span.onset, stretch.begins), min(span.end, stretch.ends)
            if onset < end:
                is_note = span.note is not None
                back = span.tied_back if onset == span.onset else is_note
                on = span.tied_on if end == span.end else is_note
                stretch.spans.append(_Span(span.note, onset, end, back, on))
    return stretches


def _plain_tuplets(
    spans: Sequence[_Span], bar_begins: Fraction, beat: Fraction
) -> Iterator[_Tuplet]:
    """Runs of equal notes that are no halves of anything and fill a plain length: three eighths in
    the time of two, wherever in the bar; two such runs that halve a beat are one."""
    found: list[_Tuplet] = []
    run: list[_Span] = []
    for span in spans:
        run.append(span)
        if not _by_halves(span.end - bar_begins):
            continue
        tuplet = _plain_tuplet(run)
        before = found[-1] if found else None
        if tuplet is not None and before is not None and _halves(before, tuplet, bar_begins, beat):
            tuplet = _Tuplet(before.begins, tuplet.ends, (2 * tuplet.ratio[0], 2 * tuplet.ratio[1]))
            found.pop()
        if tuplet is not None:
            found.append(tuplet)
        run = []
    yield from found


def _plain_tuplet(run: Sequence[_Span]) -> _Tuplet | None:
    """The run as one tuplet; None where its notes differ, or are plain themselves."""
    if len(run) < 3 or len({span.end - span.onset for span in run}) > 1:
        return None
    length = run[-1].end - run[0].onset
    normals = (count for count in range(len(run) - 1, 1, -1) if length / count in _VALUES)
    normal = next(normals, None)
    return None if normal is None else _Tuplet(run[0].onset, run[-1].end, (len(run), normal))


def _halves(one: _Tuplet, other: _Tuplet, bar_begins: Fraction, beat: Fraction) -> bool:
    """Whether two equal tuplets are the halves of a beat."""
    on_beat = (one.begins - bar_begins) % beat == 0
    middle, end = one.begins + beat / 2, one.begins + beat
    places = (one.ends, other.begins, other.ends)
    return on_beat and places == (middle, middle, end) and one.ratio == other.ratio


def _by_halves(place: Fraction) -> bool:
    """Whether it is reached by halving alone."""
    return place.denominator & (place.denominator - 1) == 0


def _odd(spans: Sequence[_Span], begins: Fraction, ends: Fraction) -> int:
    """The odd part of what the beat is divided into between these places: 3 for triplets."""
    places = {place for span in spans for place in (span.onset, span.end)}
    denominators = [(place - begins).denominator for place in places if begins < place < ends]
    common = math.lcm(*denominators) if denominators else 1
    return common // (common & -common)


def _ratio(spans: Sequence[_Span], begins: Fraction, ends: Fraction, odd: int) -> tuple[int, int]:
    """(3, 2) for triplets, (6, 4) for six even notes to the beat."""
    normal = 2 ** int(math.log2(odd))
    inside = [span for span in spans if begins <= span.onset and span.end <= ends]
    even = len({span.end - span.onset for span in inside}) == 1
    if even and ends - begins <= 2 and len(inside) % (2 * odd) == 0:
        return 2 * odd, 2 * normal
    return odd, normal


# Note values


def _symbols(stretch: _Tuplet, bar_begins: Fraction, beat: Fraction) -> list[Symbol]:
    actual, normal = stretch.ratio
    found: list[Symbol] = []
    for span in stretch.spans:
        scaled = (span.end - span.onset) * actual / normal
        place = span.onset - bar_begins
        parts = list(_values(place, scaled, beat if stretch.ratio == (1, 1) else None,
                             rest=span.note is None))  # fmt: skip
        onset = span.onset
        for index, (value, dots) in enumerate(parts):
            length = value * _DOTTED[dots] * normal / actual
            is_note = span.note is not None
            found.append(
                Symbol(
                    note=span.note,
                    onset=onset,
                    length=length,
                    value=value,
                    dots=dots,
                    ratio=stretch.ratio,
                    tied_back=span.tied_back if index == 0 else is_note,
                    tied_on=span.tied_on if index == len(parts) - 1 else is_note,
                )
            )
            onset += length
    if stretch.ratio != (1, 1):
        found[0] = replace(found[0], tuplet_begins=True)
        found[-1] = replace(found[-1], tuplet_ends=True)
    return found


def _values(
    place: Fraction, length: Fraction, beat: Fraction | None, *, rest: bool
) -> Iterator[tuple[Fraction, int]]:
    """(value, dots) one after the other; rests and tied lengths are parted at the beats."""
    single = _single(length, most_dots=1 if rest else 2)
    to_beat = beat - place % beat if beat is not None and place % beat else length
    if single is not None and not (rest and length > to_beat):
        yield single
        return
    if to_beat < length:
        yield from _values(place, to_beat, None, rest=rest)
        yield from _values(place + to_beat, length - to_beat, beat, rest=rest)
        return
    largest = next(value for value in _VALUES if value <= length)
    yield largest, 0
    if length > largest:
        yield from _values(place + largest, length - largest, beat, rest=rest)


def _single(length: Fraction, most_dots: int) -> tuple[Fraction, int] | None:
    for dots, times in _DOTTED.items():
        if dots <= most_dots and length / times in _VALUES:
            return length / times, dots
    return None


# Beams


def _beamed(symbols: Sequence[Symbol], bar_begins: Fraction, meter: Meter) -> list[Symbol]:
    """The symbols with their beams: beat by beat, a tuplet whole; plain eighths by half bars or
    whole bars."""
    beat = meter.beat_quarters
    wide = beat * {2: 2, 3: 3, 4: 2, 6: 3}.get(meter.beats_per_bar, 1)
    windows: dict[int, Fraction] = {}
    begun = bar_begins
    for index, members in groupby(symbols, key=lambda one: (one.onset - bar_begins) // wide):
        inside = list(members)
        eighths = all(
            one.note is not None and one.value == Fraction(1, 2) and not one.dots
            and one.ratio == (1, 1)
            for one in inside
        )  # fmt: skip
        for one in inside:
            if one.ratio == (1, 1) or one.tuplet_begins:
                begun = one.onset
            windows[id(one)] = (
                Fraction(int(index)) * wide
                if eighths and beat == 1
                else (begun - bar_begins) // beat * beat + Fraction(1, 1000)
            )
    found: list[Symbol] = []
    for (joined, _), members in groupby(
        symbols, key=lambda one: (one.note is not None and one.flags > 0, windows[id(one)])
    ):
        group = list(members)
        found += _with_beams(group) if joined and len(group) > 1 else group
    return found


def _with_beams(group: Sequence[Symbol]) -> list[Symbol]:
    last = len(group) - 1
    found = []
    for place, symbol in enumerate(group):
        beams = []
        for level in range(1, symbol.flags + 1):
            before = place > 0 and group[place - 1].flags >= level
            after = place < last and group[place + 1].flags >= level
            hook = "forward hook" if place == 0 else "backward hook"
            beams.append(
                "continue" if before and after
                else "end" if before else "begin" if after else hook
            )  # fmt: skip
        found.append(replace(symbol, beams=tuple(beams)))
    return found
