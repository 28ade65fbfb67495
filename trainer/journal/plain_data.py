"""Facts as JSON-ready data."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from enum import Enum
from pathlib import Path


def plain(value: object) -> object:
    """Dates in ISO 8601, our own words as text, every collection a list or a dictionary."""
    if isinstance(value, Mapping):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(inner) for inner in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Path):
        return str(value)
    return value.value if isinstance(value, Enum) else value
