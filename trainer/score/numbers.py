"""Numbers as they stand in a file from anywhere."""

from __future__ import annotations

LARGEST = 1_000_000
"""No number of a score means anything beyond."""


def number(text: str | None) -> float | None:
    """A finite number of ordinary size, or None."""
    try:
        value = float((text or "").strip())
    except ValueError:
        return None
    return value if abs(value) <= LARGEST else None


def integer(text: str | None, otherwise: int) -> int:
    """A whole number of ordinary size, or the other value."""
    value = number(text)
    return int(value) if value is not None and value == int(value) else otherwise
