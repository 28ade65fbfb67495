"""How much is played, of which pitches, in which rooms, from which seed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from tests.bench.ear.recorded.notes import RECORDED, Bank, Part, quick_bank
from tests.bench.ear.recorded.rooms import HALLS, ROOMS, Place, Room

T = TypeVar("T")
QUICK_ROOMS = (ROOMS[0], ROOMS[2], ROOMS[4])


@dataclass(frozen=True)
class Plan:
    """One run of the bench."""

    part: Part
    quick: bool
    seed: int
    player: str = RECORDED
    """Whose notes the coach's lines are put together from."""
    halls: bool = False
    """Whether it is played in halls, not in rooms."""

    @property
    def rooms(self) -> tuple[Room, ...]:
        """The rooms played in."""
        if self.halls:
            return HALLS
        return QUICK_ROOMS if self.quick else ROOMS

    @property
    def quick_notes(self) -> Bank:
        """The player's notes that speak at once."""
        return quick_bank(self.part, self.player)

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
