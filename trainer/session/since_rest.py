"""What was played since the last rest, and when that calls for a word of care."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.coach.care import care_due
from trainer.music.note import Articulation
from trainer.routine.round import Round


@dataclass(frozen=True)
class SinceRest:
    """How much was played since the last rest."""

    played_s: float = 0.0
    air_rounds: int = 0
    """Rounds on air alone."""

    def and_played(self, round_: Round, seconds: float) -> SinceRest:
        """With one more round, which lasted so long."""
        air_rounds = self.air_rounds + is_on_air_alone(round_)
        return SinceRest(self.played_s + seconds, air_rounds)

    @property
    def words_of_care(self) -> str | None:
        """What to say after the round just played; None for nothing."""
        return care_due(self.played_s / 60, self.air_rounds)


def is_on_air_alone(round_: Round) -> bool:
    """The round is blown without a tone."""
    return round_.articulation in (Articulation.AIR_ONLY, Articulation.AIR_ONLY_SILENT)
