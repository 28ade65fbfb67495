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


@dataclass(frozen=True)
class Bars:
    """The bars of a piece of music, without an end."""

    meter: Meter
    """Of the first bar; places are counted in its beats."""
    key: Key | None = None
    changes: tuple[SignatureChange, ...] = ()
    """In order. A bar that one of them cuts is short."""
    in_quarters: bool = False
    """True: all places are counted in quarter notes instead."""

    def at(self, beat: Fraction | float) -> BarSpan:
        """The bar a place lies in; before the first beat bars are counted backwards."""
        place = max(0, bisect_right(self._begins, beat) - 1)
        change, first_number = self._stretches[place]
        length = change.meter.bar_quarters / self._unit
        count = math.floor((beat - change.beat) / length)
        begins = change.beat + count * length
        later = self._begins[place + 1 : place + 2]
        return BarSpan(
            number=first_number + count,
            begins=begins,
            ends=min([begins + length, *later]),
            meter=change.meter,
            key=change.key,
            beat=change.meter.beat_quarters / self._unit,
        )

    def until(self, end: Fraction) -> Iterator[BarSpan]:
        """Every bar that begins before this place."""
        begins = Fraction(0)
        while begins < end:
            bar = self.at(begins)
            yield bar
            begins = bar.ends

    def beat_ends(self, place: Fraction) -> Fraction:
        """The place itself where it is on a beat or a bar line, else the end of its beat."""
        bar = self.at(place)
        inside = (place - bar.begins) / bar.beat
        return min(bar.begins + math.ceil(inside) * bar.beat, bar.ends)

    def before(self, bar: BarSpan) -> SignatureChange:
        """The signatures of the bar before this one; of the first, its own."""
        other = self.at(bar.begins - Fraction(1, 1000)) if bar.number else bar
        return SignatureChange(bar.begins, other.meter, other.key)

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
        return replace(self, changes=tuple(moved), in_quarters=True)

    @property
    def _unit(self) -> Fraction:
        return Fraction(1) if self.in_quarters else self.meter.beat_quarters

    @cached_property
    def _stretches(self) -> Sequence[tuple[SignatureChange, int]]:
        """Each stretch under one signature, with the number of its first bar."""
        found = [(SignatureChange(Fraction(0), self.meter, self.key), 0)]
        for change in self.changes:
            before, number = found[-1]
            length = before.meter.bar_quarters / self._unit
            bars = math.ceil((change.beat - before.beat) / length)
            found.append((change, number + bars))
        return found

    @cached_property
    def _begins(self) -> Sequence[Fraction]:
        return [change.beat for change, _ in self._stretches]


def _differ(one: SignatureChange, other: SignatureChange | BarSpan) -> bool:
    return (one.meter, one.key) != (other.meter, other.key)


def _plain(changes: Sequence[SignatureChange], bars: Bars) -> Iterator[SignatureChange]:
    """Without those that say what holds already, at a bar line."""
    so_far = Bars(bars.meter, bars.key)
    for change in changes:
        bar = so_far.at(change.beat)
        if _differ(change, bar) or bar.begins != change.beat:
            so_far = replace(so_far, changes=(*so_far.changes, change))
            yield change
