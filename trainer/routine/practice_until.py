"""Until when a round is played again: the teacher's rule, and what follows each time."""

from __future__ import annotations

from dataclasses import dataclass

STEP = 0.92
"""A step back in tempo, and forward again: our own choice."""
SLOWEST_SHARE = 0.5
"""No step leads below this share of the tempo asked for. Our own choice."""


@dataclass(frozen=True)
class Until:
    """When a round is done."""

    in_a_row: int
    """So many times right, one after the other."""
    at_most: int
    """Then it is left for another day."""
    steps_back: bool = False
    """A wrong one leads a step back in tempo, enough right ones a step forward again."""

    def __str__(self) -> str:
        if self.in_a_row == 1:
            return f"until the aims are met, at most {self.at_most} rounds"
        back = ", else a step back" if self.steps_back else ""
        return f"until {self.in_a_row} right in a row{back}"


@dataclass(frozen=True)
class Tries:
    """How it has gone with the round under way."""

    played: int = 0
    in_a_row: int = 0
    tempo_share: float = 1.0
    """Of the tempo asked for."""

    def after(self, until: Until, right: bool | None) -> Tries:
        """One more; None: it could not be judged, which neither helps nor harms."""
        row, share = self.in_a_row, self.tempo_share
        if right is not None:
            row = row + 1 if right else 0
        if until.steps_back and right is False:
            share = max(SLOWEST_SHARE, share * STEP)
        elif row >= until.in_a_row and share < 1:
            row, share = 0, min(1.0, share / STEP)
        return Tries(self.played + 1, row, share)

    def over(self, until: Until) -> bool:
        """Nothing of it is left to play."""
        return self.reached(until) or self.played >= until.at_most

    def reached(self, until: Until) -> bool:
        """Right often enough, at the tempo asked for."""
        return self.in_a_row >= until.in_a_row and self.tempo_share >= 1


NO_TRIES = Tries()
"""Nothing is played yet."""
