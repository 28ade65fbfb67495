"""What a round came to as a whole: what the journal keeps of it and `trainer listen` prints.

Plain data, so that the journal needs no arithmetic; it is filled by `figures.take_measures`.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.ear.heard import State, Take


@dataclass(frozen=True)
class OlderMeasures:
    """Figures as an older trainer counted them, of a round whose notes weren't kept.

    They are shown and never compared with figures of today.
    """

    evenness_ms: float | None = None
    """Onsets about a straight line through each run of notes."""
    cents_median: float | None = None
    """Of all notes, those nobody asked for too."""


@dataclass(frozen=True)
class RoundMeasures:
    """A round as a whole. None wherever there was too little to measure."""

    played: int
    """Expected notes that were played."""
    missed: int
    """Expected notes that were not heard, another note in their place or none."""
    extra: int
    """Sounds that answer no expected note."""
    lead_ms: float | None = None
    """`round_figures.lead_ms`."""
    evenness_ms: float | None = None
    """`round_figures.evenness_ms`."""
    tempo_bpm: float | None = None
    """The tempo played, at the middle of the player's own line."""
    cents_median: float | None = None
    """`round_figures.median_cents`."""
    starts_unsure: int = 0
    """Played notes whose start was not judged (`note_figures.is_start_unsure`)."""
    older: OlderMeasures | None = None


def note_counts(take: Take) -> RoundMeasures:
    """How many notes were heard, missed and not asked for; nothing of time or pitch."""
    return RoundMeasures(
        take.count(State.PLAYED), take.count(State.MISSED), take.count(State.EXTRA)
    )
