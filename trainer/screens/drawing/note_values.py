"""The round as it is written down, and which of its notes a beam joins.

Note values, ties, dots, tuplets and beams are those of the printed sheet (`trainer.score.symbols`),
so that an eighth is an eighth in every metre.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from trainer.music.note import Note
from trainer.routine.round import Round
from trainer.score.symbols import Symbol, written_bars

HALF_NOTE = Fraction(2)
WHOLE_NOTE = Fraction(4)


@dataclass(frozen=True)
class WrittenPart:
    """A note, or a part of a tied one, as it is written."""

    note: Note
    beat: Fraction
    """Beats from the round's first to where it stands."""
    symbol: Symbol

    @property
    def is_beamed(self) -> bool:
        """Whether it is joined to others."""
        return bool(self.symbol.beams)


@dataclass(frozen=True)
class WrittenRest:
    """A rest as it is written."""

    beat: Fraction
    length: Fraction
    """Beats."""
    symbol: Symbol
    whole_bar: bool = False
    """Whether the bar holds nothing else; it is then written as a whole rest in its middle."""


@dataclass(frozen=True)
class WrittenRound:
    """All that is written down of a round."""

    parts: tuple[WrittenPart, ...]
    rests: tuple[WrittenRest, ...]
    tuplets: tuple[tuple[WrittenPart, ...], ...]
    """The notes of each tuplet; it may hold rests too."""


@lru_cache(maxsize=4)
def written(round_: Round) -> WrittenRound:
    """The round's signs in order."""
    beat = round_.beat_quarters
    notes = round_.printed
    bars = [bar.symbols for bar in written_bars(replace(round_, notes=notes))]
    return WrittenRound(
        parts=tuple(part for symbols in bars for part in _parts(symbols, beat)),
        rests=tuple(rest for symbols in bars for rest in _rests(symbols, beat)),
        tuplets=tuple(tuplet for symbols in bars for tuplet in _tuplets(symbols, beat)),
    )


def _parts(symbols: Iterable[Symbol], beat: Fraction) -> tuple[WrittenPart, ...]:
    return tuple(
        WrittenPart(one.note, one.onset / beat, one) for one in symbols if one.note is not None
    )


def _rests(symbols: Sequence[Symbol], beat: Fraction) -> Iterator[WrittenRest]:
    if all(one.note is None for one in symbols):
        bar = sum((one.length for one in symbols), Fraction(0))
        yield WrittenRest(symbols[0].onset / beat, bar / beat, symbols[0], whole_bar=True)
        return
    for one in symbols:
        if one.note is None:
            yield WrittenRest(one.onset / beat, one.length / beat, one)


def _tuplets(symbols: Iterable[Symbol], beat: Fraction) -> list[tuple[WrittenPart, ...]]:
    runs: list[list[Symbol]] = []
    for symbol in symbols:
        if symbol.tuplet_begins:
            runs.append([])
        if symbol.ratio != (1, 1):
            runs[-1].append(symbol)
    return [parts for run in runs if (parts := _parts(run, beat))]


def groups(parts: Iterable[WrittenPart]) -> list[tuple[WrittenPart, ...]]:
    """The notes joined by one beam, every other note alone."""
    joined: list[list[WrittenPart]] = []
    for part in parts:
        goes_on = part.is_beamed and part.symbol.beams[0] in ("continue", "end")
        if goes_on and joined and joined[-1][-1].is_beamed:
            joined[-1].append(part)
        else:
            joined.append([part])
    return [tuple(group) for group in joined]
