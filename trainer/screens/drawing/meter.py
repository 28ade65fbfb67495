"""How loud the microphone hears it, against the zone where it should be."""

from __future__ import annotations

LOWEST_DB, HIGHEST_DB = -75.0, 0.0
"""Ends of the line, dB re full scale."""
COLUMNS = 60
"""Of the line."""
TOO_SOFT, GOOD, CUT_OFF = "too soft", "good", "cut off"


def meter_rows(
    level_db: float, zone_db: tuple[float, float] | None, seconds_left: float | None
) -> tuple[str, ...]:
    """The zone by name with its edges, the level as a line that grows, the time left."""
    level = _column(level_db)
    line = "━" * level + "┄" * (COLUMNS - level)
    left = "" if seconds_left is None else f"{seconds_left:.0f} s"
    if zone_db is None:
        return "", "", line, "", left
    low, high = map(_column, zone_db)
    names = f"{TOO_SOFT:^{low}}{GOOD:^{high - low}}{CUT_OFF}"
    edges = f"{' ' * low}╷{' ' * (high - low - 1)}╷"
    return names, f"{edges:{COLUMNS}}", line, f"{edges:{COLUMNS}}", left


def _column(level_db: float) -> int:
    share = (level_db - LOWEST_DB) / (HIGHEST_DB - LOWEST_DB)
    return round(COLUMNS * min(1.0, max(0.0, share)))
