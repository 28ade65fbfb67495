"""What a teacher asks of the sound itself, as the flutist takes it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Shaping:
    """Vibrato, swell and colour of a round; as it stands here, nothing is asked."""

    pulses_hz: float | None = None
    """Pulses a second on every held note; 0 is a straight tone, None the player's own vibrato."""
    depth: float = 1.0
    """Vibrato against its usual depth."""
    swell_db: float = 0.0
    """How far a held note grows."""
    swell_peak: float = 0.5
    """Where it is loudest, 0 to 1: 1 only grows, 0 only falls."""
    bright_db: float = 0.0
    """What each octave of harmonics gains on the fundamental; negative is dark."""
    settles: bool = False
    """Each note is begun where the player's habit puts it, then brought to where it belongs."""


PLAIN = Shaping()
