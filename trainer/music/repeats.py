"""Repeat signs, endings and jumps: in which order the bars of a piece are played."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class Jump(StrEnum):
    """Where the music goes back to at the end of a bar."""

    DA_CAPO = "da-capo"
    """To the beginning."""
    DAL_SEGNO = "dal-segno"
    """To the segno."""


@dataclass(frozen=True)
class BarSigns:
    """What one bar, or a part of one between two signs, says of the order."""

    repeat_starts: bool = False
    plays: int = 1
    """How often the repeated stretch that ends here is played; 1 where none ends."""
    ending: frozenset[int] = frozenset()
    """The times this bar belongs to, where it stands under a first or second ending."""
    segno: bool = False
    """The segno stands at its beginning."""
    coda: bool = False
    """The coda begins here."""
    to_coda: bool = False
    """After a jump, the coda follows this bar."""
    fine: bool = False
    """After a jump, the piece ends with this bar."""
    jump: Jump | None = None
    """Where the music goes after this bar, the first time."""


NO_SIGNS = BarSigns()


def played_order(bars: Sequence[BarSigns], most: int) -> tuple[int, ...]:
    """The bars' places in the order in which they are played, `most` of them at most.

    After a jump repeats are not taken and the last ending is (common practice, no source).
    """
    first = _through_repeats(bars, most)
    jumped_from = next((place for place in first if bars[place].jump is not None), None)
    if jumped_from is None:
        return first
    until_jump = first[: _last(first, jumped_from) + 1]
    return (*until_jump, *_after_jump(bars, bars[jumped_from].jump))[:most]


def _last(places: Sequence[int], place: int) -> int:
    return len(places) - 1 - places[::-1].index(place)


def _after_jump(bars: Sequence[BarSigns], jump: Jump | None) -> list[int]:
    segno = next((place for place, bar in enumerate(bars) if bar.segno), 0)
    coda = next((place for place, bar in enumerate(bars) if bar.coda), None)
    played: list[int] = []
    place = segno if jump is Jump.DAL_SEGNO else 0
    while place < len(bars):
        bar = bars[place]
        if bar.ending and max(bar.ending) < _times(bars, place):
            place += 1
            continue
        played.append(place)
        if bar.fine:
            break
        leaves = bar.to_coda and coda is not None and coda > place
        if not leaves and bar.jump is not None:
            break
        place = coda if leaves and coda is not None else place + 1
    return played


def _through_repeats(bars: Sequence[BarSigns], most: int) -> tuple[int, ...]:
    played: list[int] = []
    start, time, place = 0, 1, 0
    after_ending = False
    while place < len(bars) and len(played) < most:
        bar = bars[place]
        if place != start and (bar.repeat_starts or (after_ending and not bar.ending)):
            start, time = place, 1
        after_ending = False
        if bar.ending and time not in bar.ending:
            place += 1
            after_ending = time > max(bar.ending)
            continue
        played.append(place)
        after_ending = bool(bar.ending)
        if bar.plays > 1 and time < _times(bars, place):
            time += 1
            place = start
            after_ending = False
        else:
            place += 1
            if bar.plays > 1 and not bar.ending:
                start, time = place, 1
    return tuple(played)


def _times(bars: Sequence[BarSigns], place: int) -> int:
    """How often the stretch whose repeat ends in this bar is played."""
    if not bars[place].ending:
        return bars[place].plays
    first = last = place
    while first > 0 and bars[first - 1].ending:
        first -= 1
    while last + 1 < len(bars) and bars[last + 1].ending:
        last += 1
    endings = [bar.ending for bar in bars[first : last + 1]]
    times = max(max(ending) for ending in endings)
    return times + 1 if len(set(endings)) == 1 else times
