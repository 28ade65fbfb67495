"""The ladder of a speed climb: the tempos played so far, plainly."""

from __future__ import annotations

from collections.abc import Sequence


def tempo_line(tempos: Sequence[float], proposed_bpm: float | None, width: int) -> str:
    """'60  63  66 → 69': the last ones that fit, and the one proposed."""
    ahead = "" if proposed_bpm is None else f" → {proposed_bpm:.0f}"
    played = [f"{tempo:.0f}" for tempo in tempos]
    line = "  ".join(played) + ahead
    while len(line) > width and len(played) > 1:
        played.pop(0)
        line = "…  " + "  ".join(played) + ahead
    return line
