"""Notes as line notation, the way a teacher would write them: what `import` prints."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from trainer.music.bars import Bars
from trainer.music.key import NO_SIGNS
from trainer.music.note import Ornament
from trainer.routine.line_words import (
    CADENZA,
    CAESURA,
    FERMATA,
    GRACE,
    IN_TIME,
    LENGTHS,
    MARK_SIGNS,
    SHARES,
    TEMPO_PRIMO,
    TRILL_SIGNS,
    UPBEAT,
)
from trainer.routine.model import WrittenNote

WIDEST_LINE = 76
"""Columns, so that it fits into a routine file of 80 with its indent."""
_NAMES = {length: word for word, length in reversed(list(LENGTHS.items()))}
_SINGLE = {length: _NAMES[length] for length in sorted(_NAMES, reverse=True)}
"""Length → its first name, the longest first."""
_SHARES = tuple(
    (word, SHARES.get(word.strip(), Fraction(1)))
    for word in ("", "dotted ", "triplet ", "double-dotted ")
)
MOST_IN_TUPLET = 100
MOST_TIED_WHOLES = 50
"""Longer notes are a fault of the file."""


def length_words(length: Fraction) -> str | None:
    """'dotted quarter', 'half+eighth'; None where the notation has no words for it."""
    for word, share in _SHARES:
        if length / share in _SINGLE:
            return word + _SINGLE[length / share]
    parts = _tied(length)
    return "+".join(parts) if parts is not None else _in_tuplet(length)


def _in_tuplet(length: Fraction) -> str | None:
    """'5:4 sixteenth', 'dotted triplet eighth', 'triplet half+eighth'."""
    odd = length.denominator // (length.denominator & -length.denominator)
    if not 1 < odd < MOST_IN_TUPLET:
        return None
    normal = 2 ** (odd.bit_length() - 1)
    tuplet = "triplet" if odd == 3 else f"{odd}:{normal}"
    plain = length * odd / normal
    if plain / Fraction(3, 2) in _SINGLE:
        return f"dotted {tuplet} {_SINGLE[plain / Fraction(3, 2)]}"
    parts = _tied(plain)
    return f"{tuplet} {'+'.join(parts)}" if parts is not None else None


def _tied(length: Fraction) -> list[str] | None:
    """Single lengths that make up this one, the longest first."""
    if not 0 < length <= 4 * MOST_TIED_WHOLES:
        return None
    parts = []
    for single, word in _SINGLE.items():
        count, length = divmod(length, single)
        parts += [word] * count
    return parts if not length else None


def _rests(begins: Fraction, length: Fraction) -> tuple[Fraction, ...]:
    """A silence as one rest where there is a word for it, else parted at beats and tuplets."""
    if length_words(length) is not None:
        return (length,)
    to_beat = -(-begins // 1) - begins
    if 0 < to_beat < length:
        return (*_rests(begins, to_beat), *_rests(begins + to_beat, length - to_beat))
    whole = Fraction(length // 1)
    if 0 < whole < length:
        return (*_rests(begins, whole), *_rests(begins + whole, length - whole))
    parts = (Fraction(count, parts) for parts in _REST_PARTS for count in range(1, parts))
    for first in parts:
        if first < length and None not in (length_words(first), length_words(length - first)):
            return (first, length - first)
    return (length,)


_REST_PARTS = (2, 4, 8, 16, 3, 6, 12, 5, 10, 7, 14, 9)
"""Of a beat: where a rest of two kinds of notes may be parted."""


def _parted(begins: Fraction, ends: Fraction, bars: Bars) -> Iterator[Fraction]:
    """What lies between two places in the parts that bar lines make of it."""
    while begins < ends:
        border = min(ends, bars.at(begins).ends)
        yield border - begins
        begins = border


def unsayable(
    notes: Sequence[WrittenNote], bars: Bars, upbeat: Fraction = Fraction(0)
) -> tuple[WrittenNote, ...]:
    """The notes of which a part, or a part of the rest before them, has no words in the notation.

    Bar lines part both; bars and upbeat in quarters, as for `line_notation`.
    """
    found = []
    end = bars.at(0).ends - upbeat if upbeat else Fraction(0)
    for note in notes:
        silences = _parted(end, note.beat, bars)
        rests = [length for part in silences for length in _rests(end, part)]
        parts = _parted(note.beat, note.beat + note.length, bars)
        if any(length_words(length) is None for length in (*parts, *rests)):
            found.append(note)
        end = note.beat + note.length
    return tuple(found)


_TRILL_WORDS: dict[int | None, str] = {sign: word for word, sign in TRILL_SIGNS.items()}


def line_notation(
    notes: Sequence[WrittenNote],
    bars: Bars,
    end: Fraction = Fraction(0),
    upbeat: Fraction = Fraction(0),
) -> str:
    """The notes with their rests, slurs, marks, breaths and bar lines, in lines of 76 signs.

    Places and lengths of the notes, the bars, the end and the upbeat are in quarters. A note held
    over a bar line is tied there. What would end inside a beat, or before `end`, is filled with
    rests. Raises ValueError where `unsayable` notes are among them.
    """
    page = _WordsWritten(bars)
    if upbeat:
        page.words.append(UPBEAT)
        page.end = bars.at(0).ends - upbeat
    for place, note in enumerate(notes):
        page.rest_until(note.beat)
        goes_on = place + 1 < len(notes) and notes[place + 1].slurred_from_last
        page.add(note, goes_on)
    page.rest_until(max(end, bars.beat_ends(page.end)))
    return "\n".join(_wrapped(page.all_bars()))


@dataclass
class _WordsWritten:
    """The words written so far."""

    in_bars: Bars
    end: Fraction = Fraction(0)
    said: str = ""
    """The length word that holds."""
    tempo_bpm: float | None = None
    """That holds; None: the passage's own."""
    slur_open: bool = False
    free: bool = False
    """In a cadenza."""
    words: list[str] = field(default_factory=list)
    """Of the bar that is open."""
    bars: list[str] = field(default_factory=list)

    def all_bars(self) -> list[str]:
        """The closed bars and the open one."""
        return [*self.bars, *([" ".join(self.words)] if self.words else [])]

    def rest_until(self, beat: Fraction) -> None:
        """Rests up to there, parted at bar lines."""
        while self.end < beat:
            stop = min(beat, self.in_bars.at(self.end).ends)
            self._say_signatures()
            for length in _rests(self.end, stop - self.end):
                self._say_length(length)
                self.words.append("rest")
            self._go_to(stop)

    def add(self, note: WrittenNote, goes_on: bool) -> None:
        """One note; `goes_on` where the next one is slurred to it."""
        self._say_signatures()
        self._say_before(note)
        opens = goes_on and not self.slur_open
        closes = self.slur_open and (not goes_on or note.breath_after)
        self.slur_open = (self.slur_open or opens) and not closes
        mark = MARK_SIGNS[note.mark] if note.mark is not None else ""
        sounded, end = f"{'(' * opens}{note.pitch}{mark}", note.beat + note.length
        for length in _parted(note.beat, end, self.in_bars):
            self._say_signatures()
            self._say_length(length)
            held_on = self.end + length < end
            breath = f" {CAESURA}" if note.stop_after else "," * note.breath_after
            after = "+" if held_on else ")" * closes + breath
            self.words.append(sounded + after)
            self._go_to(self.end + length)
            sounded = str(note.pitch)

    def _say_signatures(self) -> None:
        """Time and key where the bar that begins here changes them."""
        bar = self.in_bars.at(self.end)
        if bar.begins != self.end:
            return
        before = self.in_bars.before(bar)
        if self.free != bar.free:
            self.free = bar.free
            self.words.append(CADENZA if bar.free else IN_TIME)
        if bar.meter != before.meter:
            self._say_once(f"[time {bar.meter}]")
        if bar.key != before.key:
            self._say_once(f"[key {(bar.key or NO_SIGNS).name}]")

    def _say_once(self, word: str) -> None:
        """Before the other words of its bar."""
        if word not in self.words:
            self.words.append(word)

    def _say_before(self, note: WrittenNote) -> None:
        """Tempo, dynamics, ornaments and grace notes, which stand before their note."""
        if note.tempo_bpm != self.tempo_bpm:
            self.tempo_bpm = note.tempo_bpm
            self.words.append(TEMPO_PRIMO if note.tempo_bpm is None else self._tempo(note))
        self.words += [str(word) for word in (note.dynamic, note.hairpin) if word is not None]
        if note.fermata:
            self.words.append(FERMATA)
        if note.ornament is not None:
            sign = _TRILL_WORDS.get(note.upper_sign, str(note.ornament))
            self.words.append(sign if note.ornament is Ornament.TRILL else str(note.ornament))
        if note.graces:
            self.words += [GRACE, *map(str, note.graces)]
            self.said = ""

    def _tempo(self, note: WrittenNote) -> str:
        """In beats of the time signature that holds."""
        longer = self.in_bars.at(self.end).meter.beat_quarters / self.in_bars.meter.beat_quarters
        return f"[tempo {(note.tempo_bpm or 0.0) / float(longer):g}]"

    def _say_length(self, length: Fraction) -> None:
        text = length_words(length)
        if text is None:
            raise ValueError(f"the notation has no words for {length} quarters")
        if text != self.said:
            self.words.append(text)
            self.said = text

    def _go_to(self, beat: Fraction) -> None:
        ends = self.in_bars.at(self.end).ends
        self.end = beat
        if beat == ends:
            self.bars.append(" ".join([*self.words, "|"]))
            self.words.clear()


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
