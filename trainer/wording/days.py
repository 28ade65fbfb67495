"""How a day is named, wherever one is read or said."""

from __future__ import annotations

from datetime import date


def date_words(day: date) -> str:
    """'23 November'."""
    return f"{day.day} {day:%B}"


def day_words(day: date) -> str:
    """'Monday 23 November'."""
    return f"{day:%A} {date_words(day)}"


def short_day(day: date) -> str:
    """'Mon 23'."""
    return f"{day:%a} {day.day}"
