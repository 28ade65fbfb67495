"""How much is played, of which pitches, in which rooms, from which seed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from tests.bench.ear.recorded.notes import Part
from tests.bench.ear.recorded.rooms import ROOMS, Place, Room

T = TypeVar("T")
QUICK_ROOMS = (ROOMS[0], ROOMS[2], ROOMS[4])


@dataclass(frozen=True)
class Plan:
    """One run of the bench."""

    part: Part
    quick: bool
    seed: int

    @property
    def rooms(self) -> tuple[Room, ...]:
        """The rooms played in."""
        return QUICK_ROOMS if self.quick else ROOMS

    def takes(self, complete: int, quick: int) -> int:
        """How many, in a complete run and in a quick one."""
        return quick if self.quick else complete

    def some(self, everything: Sequence[T], per: int = 8) -> list[T]:
        """All of them, in a quick run one of so many; the first always."""
        return list(everything[:: per if self.quick else 1])

    def tags(self, place: Place) -> dict:
        """What every record says of where it was played."""
        return {
            "room": place.room.name,
            "generator": place.generator,
            "microphone": place.microphone,
        }
