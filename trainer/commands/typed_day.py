"""A day as somebody types it: 2026-11-29, 29.11.2026, '29 November', 'yesterday', 'monday'."""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterator
from datetime import date, timedelta
from enum import Enum

from trainer.errors import TrainerError
from trainer.wording.days import date_words

HOW = "Write it as 2026-11-29, 29.11.2026, '29 November', yesterday or monday."
_NEAR = {"today": 0, "yesterday": -1, "tomorrow": 1}
_WEEKDAYS = [name.lower() for name in calendar.day_name]
_MONTHS = [name.lower() for name in calendar.month_name][1:]
_DOTTED = re.compile(r"(\d{1,2})\. ?(\d{1,2})\.(?: ?(\d{4}))?")
_DAY_FIRST = re.compile(r"(\d{1,2})(?:st|nd|rd|th|\.)?[ -]?([a-z]{3,9})\.?(?:,?[ -]?(\d{4}))?")
_MONTH_FIRST = re.compile(r"([a-z]{3,9})\.?[ -]?(\d{1,2})(?:st|nd|rd|th)?(?:,?[ -]?(\d{4}))?")
_SLASHED = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4})")


class Lies(Enum):
    """Where a day without a year, or a day of the week, is looked for."""

    BEHIND = -1
    """Today or the last one."""
    AHEAD = 1
    """Today or the next one."""


def typed_day(typed: str, today: date, lies: Lies) -> date:
    """The day that is meant. Raises TrainerError, in a sentence, where that is not plain."""
    words = " ".join(typed.lower().replace(",", ", ").split()).replace(" ,", ",")
    if words in _NEAR:
        return today + timedelta(days=_NEAR[words])
    named = _of_the_week(words, today, lies) or _written_out(words, today, lies)
    if named is not None:
        return named
    slashed = _SLASHED.fullmatch(words)
    if slashed is not None:
        return _either_way(typed, *(int(part) for part in slashed.groups()))
    try:
        return date.fromisoformat(words)
    except ValueError:
        raise TrainerError(f"'{typed}' is no day. {HOW}") from None


def is_month(word: str) -> bool:
    """Whether a word names a month."""
    return _month(word.lower().strip(",.")) is not None


def _of_the_week(words: str, today: date, lies: Lies) -> date | None:
    found = [n for n, name in enumerate(_WEEKDAYS) if len(words) >= 3 and name.startswith(words)]
    if len(found) != 1:
        return None
    return today + timedelta(days=lies.value * ((lies.value * (found[0] - today.weekday())) % 7))


def _written_out(words: str, today: date, lies: Lies) -> date | None:
    dotted = _DOTTED.fullmatch(words)
    if dotted is not None:
        day, month, year = dotted.groups()
        return _dated(int(day), int(month), year, today, lies)
    for pattern, day_group, month_group in ((_DAY_FIRST, 1, 2), (_MONTH_FIRST, 2, 1)):
        match = pattern.fullmatch(words)
        number = _month(match[month_group]) if match is not None else None
        if match is not None and number is not None:
            return _dated(int(match[day_group]), number, match[3], today, lies)
    return None


def _month(word: str) -> int | None:
    found = [n for n, name in enumerate(_MONTHS, 1) if len(word) >= 3 and name.startswith(word)]
    return found[0] if len(found) == 1 else None


def _dated(day: int, month: int, year: str | None, today: date, lies: Lies) -> date:
    """With its year, or the nearest one that lies on the side that is asked for."""
    found = list(_in_years(day, month, [int(year)] if year else _years(today)))
    if not found:
        name = _MONTHS[month - 1].capitalize() if 1 <= month <= 12 else f"month {month}"
        raise TrainerError(f"There is no day {day} in {name}{f' {year}' if year else ''}. {HOW}")
    right = [one for one in found if (one - today).days * lies.value >= 0]
    return min(right or found, key=lambda one: abs((one - today).days))


def _years(today: date) -> list[int]:
    """Far enough for a 29 February."""
    return list(range(today.year - 8, today.year + 9))


def _in_years(day: int, month: int, years: list[int]) -> Iterator[date]:
    for year in years:
        try:
            yield date(year, month, day)
        except ValueError:
            continue


def _either_way(typed: str, first: int, second: int, year: int) -> date:
    """With strokes the month may stand first or second: only one of the two may be a day."""
    readings = {*_in_years(first, second, [year]), *_in_years(second, first, [year])}
    if len(readings) == 1:
        return readings.pop()
    if not readings:
        raise TrainerError(f"'{typed}' is no day. {HOW}")
    early, late = sorted(readings)
    raise TrainerError(
        f"'{typed}' could be {date_words(early)} or {date_words(late)}: write {early} or {late}."
    )
