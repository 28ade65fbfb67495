"""How loud a line is asked for: one dynamic throughout, or growing and falling."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from trainer.music.note import Dynamic, Hairpin, Note
from trainer.routine.round import Swell


@dataclass(frozen=True)
class Loudness:
    """What stands under the notes."""

    first: Dynamic | None = None
    """At the first note."""
    swell: Swell | None = None
    """None: it stays."""
    last: Dynamic | None = None
    """At the last note; in a swell there and back, at its peak."""

    def __str__(self) -> str:
        if self.first is None or self.last is None:
            return str(self.first or self.swell or "")
        back = " and back" if self.swell is Swell.THERE_AND_BACK else ""
        return f"{self.first} to {self.last}{back}"


def with_loudness(notes: Sequence[Note], asked: Loudness) -> tuple[Note, ...]:
    """The notes with their signs; the peak of a swell there and back is the middle note."""
    last = len(notes) - 1
    peak = last // 2 if asked.swell is Swell.THERE_AND_BACK else last
    falls = asked.swell is Swell.SOFTER
    opening = None if asked.swell is None else (Hairpin.SOFTER if falls else Hairpin.LOUDER)
    marked = []
    for place, note in enumerate(notes):
        if place == 0:
            note = replace(note, dynamic=asked.first, hairpin=opening if last else None)
        elif place == peak and asked.swell is not None:
            closing = Hairpin.SOFTER if peak < last else None
            note = replace(note, dynamic=asked.last, hairpin=closing)
        elif place == last and peak < last:
            note = replace(note, dynamic=asked.first)
        marked.append(note)
    return tuple(marked)
