"""Notes as line notation, the way a teacher would write them: what `import` prints."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from trainer.music.note import Mark
from trainer.routine.model import WrittenNote

WIDEST_LINE = 76
"""Columns, so that it fits into a routine file of 80 with its indent."""
_SINGLE = {
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
    Fraction(1, 4): "sixteenth",
    Fraction(1, 8): "thirty-second",
}
_SHARES = (("", Fraction(1)), ("dotted ", Fraction(3, 2)), ("triplet ", Fraction(2, 3)))
_MARKS = {Mark.STACCATO: ".", Mark.TENUTO: "-", Mark.ACCENT: ">"}
MOST_TIED_WHOLES = 50
"""Longer notes are a fault of the file."""


def length_words(length: Fraction) -> str | None:
    """'dotted quarter', 'half+eighth'; None where the notation has no words for it."""
    for word, share in _SHARES:
        if length / share in _SINGLE:
            return word + _SINGLE[length / share]
    for word, share in _SHARES:
        parts = _tied(length / share)
        if parts is not None:
            return word + "+".join(parts)
    return None


def _tied(length: Fraction) -> list[str] | None:
    """Single lengths that make up this one, the longest first."""
    if not 0 < length <= 4 * MOST_TIED_WHOLES:
        return None
    parts = []
    for single, word in _SINGLE.items():
        count, length = divmod(length, single)
        parts += [word] * count
    return parts if not length else None


def _rests(length: Fraction) -> tuple[Fraction, ...]:
    """A silence as one rest, or as two where one of them is of a triplet and the other is not."""
    for triplets in (Fraction(0), Fraction(1, 12), Fraction(1, 6)):
        if length > triplets and length_words(length - triplets) is not None:
            return (length - triplets, triplets) if triplets else (length,)
    return (length,)


def _parted(length: Fraction, room: Fraction, bar: Fraction) -> Iterator[Fraction]:
    """A length in the parts that bar lines make of it; `room` is left before the first."""
    while length > room:
        yield room
        length, room = length - room, bar
    yield length


def unsayable(notes: Sequence[WrittenNote]) -> tuple[WrittenNote, ...]:
    """The notes whose length, or the rest before them, the notation has no words for."""
    found = []
    end = Fraction(0)
    for note in notes:
        rests = _rests(note.beat - end) if note.beat > end else ()
        if any(length_words(length) is None for length in (note.length, *rests)):
            found.append(note)
        end = note.beat + note.length
    return tuple(found)


def line_notation(
    notes: Sequence[WrittenNote], bar: Fraction, beat: Fraction, end: Fraction = Fraction(0)
) -> str:
    """The notes with their rests, slurs, marks, breaths and bar lines, in lines of 76 signs.

    Places and lengths of the notes, the bar, the beat and the end are in quarters. A note held over
    a bar line is tied there. What would end inside a beat, or before `end`, is filled with rests.
    Raises ValueError where `unsayable` notes are among them.
    """
    page = _WordsWritten(bar)
    for place, note in enumerate(notes):
        page.rest_until(note.beat)
        goes_on = place + 1 < len(notes) and notes[place + 1].slurred_from_last
        page.add(note, goes_on)
    page.rest_until(max(end, -(-page.end // beat) * beat))
    return "\n".join(_wrapped(page.all_bars()))


@dataclass
class _WordsWritten:
    """The words written so far."""

    bar: Fraction
    end: Fraction = Fraction(0)
    bar_end: Fraction = Fraction(0)
    said: str = ""
    """The length word that holds."""
    slur_open: bool = False
    words: list[str] = field(default_factory=list)
    """Of the bar that is open."""
    bars: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.bar_end = self.bar

    def all_bars(self) -> list[str]:
        """The closed bars and the open one."""
        return [*self.bars, *([" ".join(self.words)] if self.words else [])]

    def rest_until(self, beat: Fraction) -> None:
        """Rests up to there, parted at bar lines."""
        while self.end < beat:
            stop = min(beat, self.bar_end)
            for length in _rests(stop - self.end):
                self._say_length(length)
                self.words.append("rest")
            self._go_to(stop)

    def add(self, note: WrittenNote, goes_on: bool) -> None:
        """One note; `goes_on` where the next one is slurred to it."""
        self.words += [str(word) for word in (note.dynamic, note.hairpin) if word is not None]
        opens = goes_on and not self.slur_open
        closes = self.slur_open and (not goes_on or note.breath_after)
        self.slur_open = (self.slur_open or opens) and not closes
        mark = _MARKS[note.mark] if note.mark is not None else ""
        sounded, end = f"{'(' * opens}{note.pitch}{mark}", note.beat + note.length
        for length in _parted(note.length, self.bar_end - self.end, self.bar):
            self._say_length(length)
            held_on = self.end + length < end
            after = "+" if held_on else ")" * closes + "," * note.breath_after
            self.words.append(sounded + after)
            self._go_to(self.end + length)
            sounded = str(note.pitch)

    def _say_length(self, length: Fraction) -> None:
        text = length_words(length)
        if text is None:
            raise ValueError(f"the notation has no words for {length} quarters")
        if text != self.said:
            self.words.append(text)
            self.said = text

    def _go_to(self, beat: Fraction) -> None:
        self.end = beat
        if self.end == self.bar_end:
            self.bars.append(" ".join([*self.words, "|"]))
            self.words.clear()
            self.bar_end += self.bar


def _wrapped(bars: Sequence[str]) -> list[str]:
    """Bars to a line while there is room; a bar too wide for one is broken between words."""
    lines = [""]
    for bar in bars:
        together = f"{lines[-1]} {bar}".strip()
        if len(together) <= WIDEST_LINE:
            lines[-1] = together
        else:
            lines += _broken(bar)
    return [line for line in lines if line]


def _broken(bar: str) -> list[str]:
    lines = [""]
    for word in bar.split():
        together = f"{lines[-1]} {word}".strip()
        if len(together) <= WIDEST_LINE:
            lines[-1] = together
        else:
            lines.append(word)
    return lines
