"""A part as it was read from a score: bars with written notes, and what can't be used."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.music.key import Key
from trainer.music.note import Dynamic, Hairpin, Mark, Ornament
from trainer.music.pitch import Interval, Pitch
from trainer.music.repeats import NO_SIGNS, BarSigns, played_order

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
    graces: tuple[Pitch, ...] = ()
    """Grace notes before it."""
    ornament: Ornament | None = None
    upper_sign: int | None = None
    """What an accidental over a trill makes of the note above."""
    fermata: bool = False
    stop_after: bool = False
    """A caesura follows."""


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
    signs: BarSigns = NO_SIGNS
    """What it says of the order in which the bars are played."""
    section_begins: bool = False
    """A rehearsal mark stands at its beginning."""
    section_ends: bool = False
    """It ends with a double bar."""

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
    """The bars in the order in which they are played, repeats, endings and jumps written out."""
    return tuple(bars[place] for place in played_order([bar.signs for bar in bars], MOST_BARS))


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
                        fermata=before.fermata or placed.fermata,
                        stop_after=placed.stop_after,
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
