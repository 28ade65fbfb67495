"""A speed climb: what the teacher asks of it, and where it stands."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.coach import thresholds
from trainer.wording.sentence_list import say


@dataclass(frozen=True)
class TempoLadder:
    """What the teacher asks of a speed climb."""

    from_bpm: float
    to_bpm: float
    minutes: float
    in_turns: bool = False
    """A slow round and one at the goal in turns, instead of step by step."""


@dataclass(frozen=True)
class ClimbState:
    """Where the climb stands; `tempo_bpm` is the round to play next."""

    ladder: TempoLadder
    tempo_bpm: float
    why: str
    """One sentence: why this tempo."""
    finished: bool = False
    held_bpm: tuple[float, ...] = ()
    """Tempos at which the aims were met, and nothing came apart at or below since; rising."""
    came_apart_bpm: tuple[float, ...] = ()
    """Tempos at which it came apart, rising: once for each time, twice where badly, less one for
    each time that it has held there, or faster, since."""
    breaks: int = 0
    """How often it came apart; in turns, since the goal held or came nearer."""
    good_rounds: int = 0
    """Rounds that went well since the last step back."""
    best_bpm: float | None = None
    """The fastest tempo at which the aims were ever met in this climb."""
    held: bool = False
    """The last round only just held, and this tempo is being played again."""
    used_s: float = 0.0
    """Time spent, with count-ins and pauses."""
    round_s: float = 0.0
    """The last round's time, with its count-in and pause."""
    slow_bpm: float | None = None
    """In turns: the tempo of the slow rounds."""
    goal_bpm: float | None = None
    """In turns: what the quick rounds aim at today."""

    @property
    def secure_bpm(self) -> float | None:
        """The fastest tempo at which the aims were met; None before there is one."""
        return self.held_bpm[-1] if self.held_bpm else None

    @property
    def wall_bpm(self) -> float | None:
        """The slowest tempo that came apart and has not held well enough since."""
        return min(self.came_apart_bpm, default=None)

    @property
    def rounds_left(self) -> int:
        """Whole rounds that still fit, were they no shorter than the last."""
        if not self.round_s:
            return 0
        return int((60 * self.ladder.minutes - self.used_s) / self.round_s)

    @property
    def reachable_bpm(self) -> float:
        """Where the time left should lead, the goal at most; no promise."""
        usual = self.tempo_bpm * (1 + thresholds.STEP_SHARE) ** max(0, self.rounds_left - 1)
        wall = self.ladder.to_bpm if self.wall_bpm is None else self.wall_bpm
        return min(self.ladder.to_bpm, wall, max(usual, self.secure_bpm or 0.0))

    @property
    def closing(self) -> str:
        """What held, and that tomorrow starts below it, where it does."""
        if self.secure_bpm is None:
            return say("none held")
        lower = start_bpm(self.ladder, self.secure_bpm) < self.secure_bpm
        little = lower and not self.ladder.in_turns
        return say("held today" if little else "held, no lower", bpm=f"{self.secure_bpm:.0f}")


def start_bpm(ladder: TempoLadder, held_before_bpm: float | None) -> float:
    """Where a climb begins: a little under what held the last time, so that it begins easily, never
    below the teacher's start nor above the goal; in turns always slow."""
    if held_before_bpm is None or ladder.in_turns:
        return ladder.from_bpm
    below = float(round(thresholds.TOMORROW * held_before_bpm))
    return min(max(ladder.from_bpm, below), ladder.to_bpm)
