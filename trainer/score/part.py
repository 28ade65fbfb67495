"""A part as it was read from a score: bars with written notes, and what can't be used."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.music.key import Key
from trainer.music.note import Dynamic, Hairpin, Mark
from trainer.music.pitch import Interval, Pitch

UNISON = Interval(0, 0)
MOST_BARS = 2000
"""After unfolding; a piece of an hour has fewer."""


@dataclass(frozen=True)
class BarNote:
    """One note in its bar; lengths and places in quarters."""

    pitch: Pitch
    """As written."""
    beat: Fraction
    """From the start of its bar."""
    length: Fraction
    tied_on: bool = False
    """A tie goes from this note to the next of the same pitch."""
    slurred_from_last: bool = False
    breath_after: bool = False
    dynamic: Dynamic | None = None
    hairpin: Hairpin | None = None
    mark: Mark | None = None


@dataclass(frozen=True)
class Bar:
    """One bar of a part."""

    number: str
    """As printed: '0' for a pickup in most programs, '12', 'X1'."""
    length: Fraction
    """Quarters it really holds."""
    meter: tuple[int, int] | None
    """The time signature: (6, 8); None in free time."""
    key: Key | None
    tempo_bpm: float | None
    """Quarters a minute; None where the score has not said it yet."""
    notes: tuple[BarNote, ...] = ()
    left_out: tuple[str, ...] = ()
    """What stands in this bar and can't be used: 'trill', 'grace notes'."""
    repeat_starts: bool = False
    plays: int = 1
    """How often the repeated stretch that ends here is played; 1 where none ends."""
    ending: frozenset[int] = frozenset()
    """The times this bar belongs to, where it stands under a first or second ending."""

    @property
    def full_length(self) -> Fraction:
        """Quarters the time signature asks for; in free time what the bar holds."""
        return Fraction(self.meter[0] * 4, self.meter[1]) if self.meter else self.length


@dataclass(frozen=True)
class Part:
    """One part of a score."""

    name: str
    bars: tuple[Bar, ...]
    transposition: Interval = UNISON
    """From written to sounding."""
    left_out: tuple[str, ...] = ()
    """What can't be used in the part as a whole, each a sentence."""


@dataclass(frozen=True)
class Score:
    """A file of music: its title and its parts."""

    title: str
    parts: tuple[Part, ...]


def unfolded(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """The bars in the order in which they are played, repeats and endings written out."""
    played: list[Bar] = []
    start, time, place = 0, 1, 0
    after_ending = False
    while place < len(bars) and len(played) < MOST_BARS:
        bar = bars[place]
        if place != start and (bar.repeat_starts or (after_ending and not bar.ending)):
            start, time = place, 1
        after_ending = False
        if bar.ending and time not in bar.ending:
            place += 1
            after_ending = time > max(bar.ending)
            continue
        played.append(bar)
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


def _times(bars: Sequence[Bar], place: int) -> int:
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


def flattened(bars: Sequence[Bar]) -> tuple[tuple[int, BarNote], ...]:
    """(index of its bar, note) with `beat` counted from the first bar; tied notes are one."""
    notes: list[tuple[int, BarNote]] = []
    began = Fraction(0)
    for index, bar in enumerate(bars):
        for note in bar.notes:
            placed = replace(note, beat=began + note.beat)
            if notes and _goes_on(notes[-1][1], placed):
                home, before = notes[-1]
                notes[-1] = (
                    home,
                    replace(
                        before,
                        length=before.length + placed.length,
                        tied_on=placed.tied_on,
                        breath_after=placed.breath_after,
                    ),
                )
            else:
                notes.append((index, placed))
        began += bar.length
    return tuple(notes)


def _goes_on(before: BarNote, note: BarNote) -> bool:
    return (
        before.tied_on
        and before.pitch.midi == note.pitch.midi
        and before.beat + before.length == note.beat
    )
