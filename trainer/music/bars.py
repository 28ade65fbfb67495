"""Bars: where they begin and end, how they are counted, and where time or key signature change."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from trainer.music.key import Key


@dataclass(frozen=True)
class Meter:
    """A time signature as it is counted: 6/8 has two beats of three eighths."""

    beats_per_bar: int
    beat_quarters: Fraction = Fraction(1)
    """How many quarter notes a beat lasts: 3/2 in 6/8, 2 in 2/2."""

    @property
    def printed(self) -> tuple[int, int]:
        """Beats and beat type: (6, 8) where two beats of three eighths make a bar."""
        eighths = 3 if self.beat_quarters.numerator == 3 else 1
        return self.beats_per_bar * eighths, int(Fraction(4 * eighths) / self.beat_quarters)

    @property
    def bar_quarters(self) -> Fraction:
        """Quarter notes in a bar."""
        return self.beats_per_bar * self.beat_quarters

    def __str__(self) -> str:
        return "{}/{}".format(*self.printed)


COMMON_TIME = Meter(4)


def count_in_of(meter: Meter) -> int:
    """Beats of a bar; of two where a bar has one or two beats, for the pulse to be felt."""
    return meter.beats_per_bar * (2 if meter.beats_per_bar <= 2 else 1)


@dataclass(frozen=True)
class SignatureChange:
    """A bar line behind which another time or key signature holds, or bars are counted anew."""

    beat: Fraction
    """Where; in beats of the first time signature."""
    meter: Meter
    key: Key | None
    """Both are what holds from there on, changed or not."""


@dataclass(frozen=True)
class BarSpan:
    """One bar; places and lengths in beats of the first time signature."""

    number: int
    """From 0."""
    begins: Fraction
    ends: Fraction
    meter: Meter
    key: Key | None
    beat: Fraction
    """Length of one of its beats."""
    free: bool = False
    """A cadenza: one bar of any length, out of time."""


@dataclass(frozen=True)
class Bars:
    """The bars of a piece of music, without an end."""

    meter: Meter
    """Of the first bar; places are counted in its beats."""
    key: Key | None = None
    changes: tuple[SignatureChange, ...] = ()
    """In order. A bar that one of them cuts is short."""
    cadenzas: tuple[tuple[Fraction, Fraction], ...] = ()
    """(from, to) of each stretch out of time; bars begin anew behind it."""
    in_quarters: bool = False
    """True: all places are counted in quarter notes instead."""

    def at(self, beat: Fraction | float) -> BarSpan:
        """The bar a place lies in; before the first beat bars are counted backwards."""
        place = max(0, bisect_right(self._begins, beat) - 1)
        stretch = self._stretches[place]
        count = math.floor((beat - stretch.begins) / stretch.bar)
        begins = stretch.begins + count * stretch.bar
        later = self._begins[place + 1 : place + 2]
        return BarSpan(
            number=stretch.first_number + count,
            begins=begins,
            ends=min([begins + stretch.bar, *later]),
            meter=stretch.meter,
            key=stretch.key,
            beat=stretch.meter.beat_quarters / self._unit,
            free=stretch.free,
        )

    def until(self, end: Fraction) -> Iterator[BarSpan]:
        """Every bar that begins before this place."""
        begins = Fraction(0)
        while begins < end:
            bar = self.at(begins)
            yield bar
            begins = bar.ends

    def beat_ends(self, place: Fraction) -> Fraction:
        """The place itself on a beat, on a bar line or in a cadenza, else the end of its beat."""
        bar = self.at(place)
        if bar.free:
            return place
        inside = (place - bar.begins) / bar.beat
        return min(bar.begins + math.ceil(inside) * bar.beat, bar.ends)

    def before(self, bar: BarSpan) -> BarSpan:
        """The bar before this one; the first itself."""
        return self.at(bar.begins - Fraction(1, 1000)) if bar.number else bar

    def rearranged(self, pieces: Iterable[tuple[Fraction, Fraction, Fraction]]) -> Bars:
        """The bars of music made of pieces (from, to, where they stand now), in order.

        They are counted in the beats of the same first time signature, whatever comes first.
        """
        if not self.changes:
            return self
        found: list[SignatureChange] = []
        for begins, ends, now in pieces:
            here = self.at(begins)
            if here.begins == begins or not found or _differ(found[-1], here):
                found.append(SignatureChange(now, here.meter, here.key))
            own = [change for change in self.changes if begins < change.beat < ends]
            found += [replace(change, beat=change.beat - begins + now) for change in own]
        return replace(self, changes=tuple(_plain(found, self)))

    def quarters(self) -> Bars:
        """The same bars with all places counted in quarter notes."""
        moved = (replace(change, beat=change.beat * self._unit) for change in self.changes)
        free = ((begins * self._unit, ends * self._unit) for begins, ends in self.cadenzas)
        return replace(self, changes=tuple(moved), cadenzas=tuple(free), in_quarters=True)

    @property
    def _unit(self) -> Fraction:
        return Fraction(1) if self.in_quarters else self.meter.beat_quarters

    @cached_property
    def _stretches(self) -> Sequence[_Stretch]:
        """Each stretch under one signature, and each cadenza."""
        begun = {Fraction(0), *(change.beat for change in self.changes)}
        begun |= {place for cadenza in self.cadenzas for place in cadenza}
        changed = {change.beat: (change.meter, change.key) for change in self.changes}
        free_until = dict(self.cadenzas)
        found: list[_Stretch] = []
        meter, key, number = self.meter, self.key, 0
        for begins in sorted(begun):
            meter, key = changed.get(begins, (meter, key))
            if found:
                number += math.ceil((begins - found[-1].begins) / found[-1].bar)
            lasts = free_until[begins] - begins if begins in free_until else None
            bar = lasts or meter.bar_quarters / self._unit
            found.append(_Stretch(begins, bar, number, meter, key, lasts is not None))
        return found

    @cached_property
    def _begins(self) -> Sequence[Fraction]:
        return [stretch.begins for stretch in self._stretches]


@dataclass(frozen=True)
class _Stretch:
    """Bars of one kind."""

    begins: Fraction
    bar: Fraction
    """Length of each."""
    first_number: int
    meter: Meter
    key: Key | None
    free: bool


def _differ(one: SignatureChange, other: SignatureChange | BarSpan) -> bool:
    return (one.meter, one.key) != (other.meter, other.key)


def _plain(changes: Sequence[SignatureChange], bars: Bars) -> Iterator[SignatureChange]:
    """Without those that say what holds already, at a bar line."""
    so_far = Bars(bars.meter, bars.key)
    for change in changes:
        bar = so_far.at(change.beat)
        if _differ(change, bar) or bar.begins != change.beat:
            so_far = replace(so_far, changes=(change,))
            yield change
