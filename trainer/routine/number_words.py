"""Numbers as words."""

from __future__ import annotations

COUNTS = {
    "once": 1, "one": 1, "twice": 2, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6,
    "seven": 7, "eight": 8, "nine": 9, "ten": 10, "twelve": 12,
}  # fmt: skip
IN_GROUPS = {
    "twos": 2, "pairs": 2, "threes": 3, "fours": 4, "fives": 5, "sixes": 6, "eights": 8,
}  # fmt: skip
"""'in twos': so many at a time."""
