"""Weeks, months and years of the calendar."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

USUAL_WEEKS = 12
"""A term, roughly."""
USUAL_MONTHS = 12
"""A year."""


class By(StrEnum):
    """What one column of the long view is."""

    WEEK = "week"
    """Monday to Sunday (ISO 8601)."""
    MONTH = "month"
    YEAR = "year"


@dataclass(frozen=True)
class Period:
    """A week, a month or a year, or as much of it as was asked for."""

    first_day: date
    last_day: date
    whole: bool
    """Neither cut off by the days asked for nor still under way."""


def usual_first_day(last_day: date, by: By) -> date:
    """Where the long view begins when nothing else is asked: twelve weeks or months in all, or
    with the first year.
    """
    if by is By.YEAR:
        return date.min
    if by is By.WEEK:
        return around(by, last_day)[0] - timedelta(weeks=USUAL_WEEKS - 1)
    months = 12 * last_day.year + last_day.month - USUAL_MONTHS
    return date(months // 12, months % 12 + 1, 1)


def usual_by(first_day: date, last_day: date) -> By:
    """Weeks for up to twelve of them, months for up to two years, years for more."""
    if last_day - first_day < timedelta(weeks=USUAL_WEEKS):
        return By.WEEK
    return By.MONTH if last_day.year - first_day.year <= 2 else By.YEAR


def periods_between(by: By, first_day: date, last_day: date) -> tuple[Period, ...]:
    """The weeks, months or years that hold these days, oldest first."""
    return tuple(_periods(by, first_day, last_day))


def _periods(by: By, first_day: date, last_day: date) -> Iterator[Period]:
    begin = first_day
    while begin <= last_day:
        start, end = around(by, begin)
        whole = start >= first_day and end <= last_day
        yield Period(begin, min(end, last_day), whole)
        if end >= last_day:
            return
        begin = end + timedelta(days=1)


def around(by: By, day: date) -> tuple[date, date]:
    """First and last day of the week, month or year that holds a day."""
    if by is By.WEEK:
        monday = day - timedelta(days=day.weekday())
        return monday, monday + timedelta(days=6)
    if by is By.YEAR:
        return date(day.year, 1, 1), date(day.year, 12, 31)
    into_next = day.replace(day=28) + timedelta(days=4)
    return day.replace(day=1), into_next - timedelta(days=into_next.day)
