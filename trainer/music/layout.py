"""The order in which the notes of a scale are played: full range, octaves, thirds, groups."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from trainer.music.pitch import Pitch
from trainer.music.scales import ScaleRun

Pattern = tuple[int, ...]
"""One cell, in degrees above (going up) or below (coming down) its first note."""

STEPWISE: Pattern = (0,)
PATTERNS: dict[str, Pattern] = {
    "stepwise": STEPWISE,
    "thirds": (0, 2),
    "fourths": (0, 3),
    "fifths": (0, 4),
    "sixths": (0, 5),
    "sevenths": (0, 6),
    "octaves": (0, 7),
    "ninths": (0, 8),
    "tenths": (0, 9),
    "groups of three": (0, 1, 2),
    "groups of four": (0, 1, 2, 3),
}
"""Intervals are counted in degrees; in an arpeggio a degree is a note of the chord."""

_DEGREES_WRITTEN = re.compile(r"1(-\d+)+")


class End(StrEnum):
    """An end of the range."""

    TOP = "top"
    BOTTOM = "bottom"


@dataclass(frozen=True)
class ScaleDegrees:
    """The degrees of a scale within a range, with the form each takes going up and coming down.

    `up` and `down` are both lowest first and equally long; they differ in melodic minor and in
    the chromatic scale. Where the range ends on degrees that the two forms spell differently, the
    way back repeats the notes just played until they agree again, so that no line turns over an
    augmented second: E melodic minor down to C turns E D C D E, C sharp melodic minor up to
    B sharp turns G# A# B# A# G#. (Common practice, no source.)
    """

    tonic: str
    """Name without octave."""
    degrees: int
    """Notes in an octave."""
    up: tuple[Pitch, ...]
    down: tuple[Pitch, ...]

    def place(self, tonic: Pitch | None) -> int:
        """Index of a tonic, the lowest where none is given; ValueError where it isn't one."""
        tonics = [index for index, pitch in enumerate(self.up) if pitch.name == self.tonic]
        if tonic is None:
            return tonics[0]
        for index in tonics:
            if self.up[index] == tonic:
                return index
        known = ", ".join(str(self.up[index]) for index in tonics)
        raise ValueError(f"{tonic} is no tonic in range: start on {known}")

    def between(self, first: int, last: int) -> ScaleDegrees:
        """The ladder cut to the degrees from one index to another, both included."""
        cut = slice(first, last + 1)
        return ScaleDegrees(self.tonic, self.degrees, self.up[cut], self.down[cut])


def ladder(run: ScaleRun) -> ScaleDegrees:
    """The ladder of a scale or arpeggio; ValueError where no tonic lies in its range."""
    tonics = [pitch for pitch in run.ascending if pitch.name == run.tonic]
    if not tonics:
        raise ValueError(f"{run.tonic} {run.kind} has no {run.tonic} in range to start from")
    up = _from_tonic(run.ascending, tonics[0])
    down = _from_tonic(run.descending[::-1], tonics[0])
    shared = [place for place, pitch in up.items() if down.get(place) == pitch]
    places = range(min(down), max(up) + 1)
    return ScaleDegrees(
        run.tonic,
        run.degrees,
        tuple((down if place < shared[0] else up)[place] for place in places),
        tuple((up if place > shared[-1] else down)[place] for place in places),
    )


def full_range(
    steps: ScaleDegrees,
    *,
    start: Pitch | None = None,
    first_end: End = End.TOP,
    pattern: Pattern = STEPWISE,
    turning_notes_twice: bool = False,
) -> tuple[Pitch, ...]:
    """From a tonic to one end of the range, to the other, and back to the tonic.

    `start` is a tonic in range, the lowest by default; ValueError where it isn't. Stepwise, the
    notes are twice the distinct ones less one: turning notes sound once unless asked for twice.
    Full range as the aim: P. Surman, 'Getting started with T&G EJ4'; the order of the ends is
    common practice, no source.
    """
    home = steps.place(start)
    top, bottom = len(steps.up) - 1, 0
    if home == bottom:
        first_end = End.TOP
    if home == top:
        first_end = End.BOTTOM
    away = 1 if first_end is End.TOP else -1
    near, far = (top, bottom) if first_end is End.TOP else (bottom, top)
    span = max(pattern)
    # a cell that ends on the turning note has sounded it; other cells lead back to it
    turn = 0 if turning_notes_twice or pattern[-1] != span else 1

    path = _leg(steps, pattern, away, home, near - away * span, near)
    path += _leg(steps, pattern, -away, near - away * turn, far + away * span, far)
    if far != home:
        last_head = min(home - away, near - away * span, key=lambda head: away * head)
        path += _leg(steps, pattern, away, far + away * turn, last_head, home - away)
    if path[-1] != steps.up[home]:
        path.append(steps.up[home])
    return tuple(path)


def octaves(
    steps: ScaleDegrees,
    count: int,
    *,
    start: Pitch | None = None,
    pattern: Pattern = STEPWISE,
    turning_notes_twice: bool = False,
) -> tuple[Pitch, ...]:
    """From a tonic (the lowest by default) up so many octaves and back.

    Raises ValueError where the range has no room for them.
    """
    home = steps.place(start)
    top = home + count * steps.degrees
    if count < 1:
        raise ValueError(f"{count} octaves: write 1 or more")
    if top >= len(steps.up):
        raise ValueError(
            f"{_octaves_in_words(count)} from {steps.up[home]} would pass {steps.up[-1]}, "
            "the top of the range: ask for fewer octaves or start lower"
        )
    return full_range(
        steps.between(home, top), pattern=pattern, turning_notes_twice=turning_notes_twice
    )


def pattern_named(text: str) -> Pattern:
    """A pattern by its name, or written in degrees as teachers do: '1-3-2-4'.

    Raises ValueError saying what to write.
    """
    words = text.strip().lower()
    if words in PATTERNS:
        return PATTERNS[words]
    if _DEGREES_WRITTEN.fullmatch(words) and "-0" not in words:
        return tuple(int(degree) - 1 for degree in words.split("-"))
    names = ", ".join(PATTERNS)
    raise ValueError(f"'{text}' is no pattern: write {names}, or degrees from 1 such as 1-3-2-4")


def turning_note(pitches: Sequence[Pitch], end: End) -> int | None:
    """The place where the line turns at its highest or lowest note; None where it doesn't.

    A line turns only between other notes, so never on its first or last; a note sounded twice
    turns the first time.
    """
    sounds = [pitch.midi for pitch in pitches]
    extreme = max(sounds) if end is End.TOP else min(sounds)
    others = [place for place, sound in enumerate(sounds) if sound != extreme]
    if not others:
        return None
    between = range(others[0], others[-1])
    return next((place for place in between if sounds[place] == extreme), None)


def turning_notes(pitches: Sequence[Pitch]) -> tuple[int, ...]:
    """Places of the highest and the lowest turning note, in playing order."""
    turns = (turning_note(pitches, end) for end in End)
    return tuple(sorted(place for place in turns if place is not None))


def _from_tonic(pitches: tuple[Pitch, ...], tonic: Pitch) -> dict[int, Pitch]:
    """Degrees counted from a tonic → pitch, lowest first."""
    home = pitches.index(tonic)
    return {index - home: pitch for index, pitch in enumerate(pitches)}


def _leg(
    steps: ScaleDegrees, pattern: Pattern, sign: int, first_head: int, last_head: int, end: int
) -> list[Pitch]:
    """Cells from head to head, up (sign 1) or down (-1); by step where no cell has room."""
    forms = steps.up if sign > 0 else steps.down
    heads = range(first_head, last_head + sign, sign)
    if not heads:
        return [forms[place] for place in range(first_head, end + sign, sign)]
    return [forms[head + sign * degree] for head in heads for degree in pattern]


def _octaves_in_words(count: int) -> str:
    return "one octave" if count == 1 else f"{count} octaves"
