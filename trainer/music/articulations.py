"""How successive notes are started: one articulation throughout, or a pattern of slurs and strokes.

The kinds of patterns are those of studies for fours and threes; common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from math import floor

from trainer.music.note import (
    ARTICULATION_STARTS,
    Articulation,
    Mark,
    Note,
    Start,
)

ARTICULATION_MARKS: dict[Articulation, Mark] = {
    Articulation.STACCATO: Mark.STACCATO,
    Articulation.TENUTO: Mark.TENUTO,
    Articulation.ACCENTED: Mark.ACCENT,
}
"""The sign over each note, where there is one."""


class GroupKind(StrEnum):
    """What a pattern does with some notes before it does something else."""

    SLUR = "slur"
    """The first tongued, the others slurred to it."""
    TONGUE = "tongue"
    STACCATO = "staccato"
    SOFT = "soft tongue"
    DOUBLE = "double"
    TRIPLE = "triple"


_STROKES: Mapping[GroupKind, Articulation] = {
    GroupKind.SLUR: Articulation.SLURRED,
    GroupKind.TONGUE: Articulation.SINGLE,
    GroupKind.STACCATO: Articulation.STACCATO,
    GroupKind.SOFT: Articulation.LEGATO_TONGUE,
    GroupKind.DOUBLE: Articulation.DOUBLE,
    GroupKind.TRIPLE: Articulation.TRIPLE,
}
LONGEST_PATTERN = 24
"""Notes in a pattern; a longer one is no pattern a player keeps in mind. Our own choice."""
ACROSS = "across the beat"
_GROUP = re.compile(rf"({'|'.join(GroupKind)}) ([1-9]\d?)")
_NAME = re.compile(rf"({_GROUP.pattern})( ({_GROUP.pattern}))*( {ACROSS})?")


@dataclass(frozen=True)
class PatternGroup:
    """So many notes slurred, tongued or otherwise begun alike."""

    kind: GroupKind
    count: int

    def __str__(self) -> str:
        return f"{self.kind} {self.count}"


@dataclass(frozen=True)
class ArticulationPattern:
    """Slurs and strokes over a few notes, repeated through the round.

    Raises ValueError in a plain sentence for what is no pattern.
    """

    groups: tuple[PatternGroup, ...]
    across: bool = False
    """It begins on the second note: slurs lead over the beat."""

    def __post_init__(self) -> None:
        if not any(group.kind is GroupKind.SLUR for group in self.groups):
            raise ValueError("a pattern needs a slur")
        if any(group.kind is GroupKind.SLUR and group.count < 2 for group in self.groups):
            raise ValueError("a slur needs two notes")
        if self.notes > LONGEST_PATTERN:
            raise ValueError(f"a pattern has {LONGEST_PATTERN} notes at most")

    def __str__(self) -> str:
        return " ".join([*map(str, self.groups), *([ACROSS] if self.across else [])])

    @property
    def notes(self) -> int:
        """How many notes it takes before it begins again."""
        return sum(group.count for group in self.groups)

    @property
    def places(self) -> tuple[tuple[Start, Mark | None], ...]:
        """How each of its notes begins, and the sign over it."""
        found = [place for group in self.groups for place in _places(group)]
        return (*found[-1:], *found[:-1]) if self.across else tuple(found)


AnyArticulation = Articulation | ArticulationPattern


def pattern_of(name: str) -> ArticulationPattern:
    """The pattern called 'slur 2 tongue 2'. Raises ValueError for anything else."""
    if _NAME.fullmatch(name) is None:
        raise ValueError(f"'{name}' is no pattern: write it as 'slur 2 tongue 2'")
    groups = [PatternGroup(GroupKind(kind), int(count)) for kind, count in _GROUP.findall(name)]
    return ArticulationPattern(tuple(groups), name.endswith(ACROSS))


def articulation_named(name: str) -> AnyArticulation:
    """The articulation or pattern of this name. Raises ValueError for anything else."""
    try:
        return Articulation(name)
    except ValueError:
        return pattern_of(name)


ARTICULATION_NAME = rf"({'|'.join(Articulation)}|{_NAME.pattern})"
"""A regular expression for either's name."""

FOURS = tuple(
    map(
        pattern_of,
        (
            "slur 4",
            "slur 2",
            "slur 2 tongue 2",
            "tongue 2 slur 2",
            "slur 3 tongue 1",
            "tongue 1 slur 3",
            "tongue 1 slur 2 tongue 1",
            "slur 2 across the beat",
        ),
    )
)
THREES = tuple(map(pattern_of, ("slur 3", "slur 2 tongue 1", "tongue 1 slur 2")))
SIXES = tuple(
    map(
        pattern_of,
        (
            "slur 6",
            "slur 3",
            "slur 2",
            "slur 2 tongue 4",
            "slur 4 tongue 2",
            "tongue 1 slur 4 tongue 1",
            "slur 2 across the beat",
        ),
    )
)
"""What is practised over groups of so many notes (common practice, no source)."""


def articulation_order(asked: AnyArticulation) -> tuple[int, str]:
    """Sorts plain articulations in their own order, patterns by name after them."""
    plain = list(Articulation)
    return (len(plain), str(asked)) if asked not in plain else (plain.index(asked), "")


def places_of(asked: AnyArticulation) -> tuple[tuple[Start, Mark | None], ...]:
    """How successive notes begin and the sign over each, before it all comes again."""
    if isinstance(asked, ArticulationPattern):
        return asked.places
    mark = ARTICULATION_MARKS.get(asked)
    return tuple((start, mark) for start in ARTICULATION_STARTS[asked])


def articulated(notes: Iterable[Note], asked: AnyArticulation) -> tuple[Note, ...]:
    """The same notes with each start, and the sign over it, as the articulation asks.

    It runs on from note to note, and begins again after a rest and at a beat whose rhythm is not
    that of the beat before: a pattern for fours stays with the fours. The first note of a slur, and
    the first after a breath or a rest, is tongued: a slur needs a note to come from. A note
    repeated under the slur takes a soft stroke, or it would only be held. An accent or a dot that
    the teacher wrote stays.
    """
    notes = tuple(notes)
    begins = places_of(asked)
    result: list[Note] = []
    due = 0
    for note, place in zip(notes, pattern_places(notes, asked), strict=True):
        start, mark = begins[place]
        if start is Start.SLURRED:
            start = _slurred_start(result[-1] if result else None, note, broken=place != due)
        result.append(replace(note, start=start, mark=mark or note.mark))
        due = (place + 1) % len(begins)
    return tuple(result)


def pattern_places(notes: Sequence[Note], asked: AnyArticulation) -> tuple[int, ...]:
    """Which place of the articulation each note has, from 0; see `articulated`."""
    count = len(places_of(asked))
    places: list[int] = []
    for anew in _begins_anew(notes):
        places.append(0 if anew else (places[-1] + 1) % count)
    return tuple(places)


def _begins_anew(notes: Sequence[Note]) -> Iterator[bool]:
    """Of each note, whether a pattern begins with it."""
    rhythms: dict[int, list[tuple[Fraction, Fraction]]] = {}
    for note in notes:
        rhythms.setdefault(floor(note.beat), []).append((note.beat % 1, note.length))
    before: Note | None = None
    for note in notes:
        if before is None or before.beat + before.length < note.beat:
            yield True
        else:
            other = rhythms[floor(before.beat)] != rhythms[floor(note.beat)]
            yield note.beat % 1 == 0 and other
        before = note


def _slurred_start(before: Note | None, note: Note, *, broken: bool) -> Start:
    """`broken`: the pattern begins again here before it was through."""
    if before is None or broken or before.breath_after or before.beat + before.length < note.beat:
        return Start.TONGUED
    if before.pitch.midi == note.pitch.midi:
        return Start.LEGATO_TONGUE
    return Start.SLURRED


def _places(group: PatternGroup) -> Iterator[tuple[Start, Mark | None]]:
    strokes = places_of(_STROKES[group.kind])
    for place in range(group.count):
        slurs = group.kind is GroupKind.SLUR and place == 0
        yield (Start.TONGUED, None) if slurs else strokes[place % len(strokes)]
