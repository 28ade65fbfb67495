"""What a day of the routine's week asks for: which entries are played."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from trainer.routine.model import DayAsked, Entry, Exercise, Reading, Rest

FREE_DAY = "The week leaves this day free: no flute today."


def entries_on(entries: Sequence[Entry], asked: DayAsked) -> tuple[Entry, ...]:
    """The day's exercises in their order, with the rests between them and the words before them."""
    if asked.free:
        return ()
    if asked.exercises is None:
        return tuple(entries)
    names = set(asked.exercises)
    return tuple(_without_loose_ends(entries, names))


def _without_loose_ends(entries: Sequence[Entry], names: set[str]) -> Iterator[Entry]:
    """A rest stays between two exercises that stay; words stay with the exercise after them."""
    played = False
    rest: Rest | None = None
    for place, entry in enumerate(entries):
        if isinstance(entry, Rest):
            rest = rest or entry
        elif isinstance(entry, Reading):
            if _next_exercise(entries[place:]) in names:
                yield entry
        elif entry.id in names:
            if rest is not None and played:
                yield rest
            yield entry
            played, rest = True, None


def _next_exercise(entries: Sequence[Entry]) -> str:
    return next((entry.id for entry in entries if isinstance(entry, Exercise)), "")
