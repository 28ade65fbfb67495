"""The planned days as iCalendar, read back by an independent reader."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from trainer.routine.calendar_file import calendar_file
from trainer.routine.load import load_routine
from trainer.routine.plan import PlannedExercise, plan
from trainer.routine.shipped import shipped_routines

MONDAY = date(2026, 11, 30)
WRITTEN = datetime(2026, 11, 29, 12, 0, tzinfo=UTC)
Days = list[tuple[date, tuple[PlannedExercise, ...]]]


def week_of_keys() -> Days:
    routine, problems = load_routine(shipped_routines() / "week_of_keys.yaml")
    assert routine is not None, problems
    days = [MONDAY + timedelta(days=number) for number in range(7)]
    return [(day, plan(routine, day, seed=0)) for day in days]


def test_icalendar_reads_each_planned_day_and_no_free_one() -> None:
    """icalendar (PyPI, BSD licence) after RFC 5545."""
    icalendar = pytest.importorskip("icalendar")
    days = week_of_keys()
    read = icalendar.Calendar.from_ical(calendar_file("A key a day; \\ all, of it", days, WRITTEN))
    events = read.walk("VEVENT")
    assert [event.decoded("DTSTART") for event in events] == [day for day, _ in days[:6]]
    assert str(events[0]["SUMMARY"]).startswith("A key a day; \\ all, of it, about ")
    assert str(events[0]["DESCRIPTION"]).splitlines() == [
        f"{each.title}: {each.detail}" if each.detail else each.title for each in days[0][1]
    ]
    assert len({str(event["UID"]) for event in events}) == 6
    assert not [error for event in events for error in event.errors]


def test_lines_are_folded_by_octets_and_commands_are_shown_as_signs() -> None:
    text = calendar_file("Übung " * 30 + "\x1b]0;x\x07", week_of_keys(), WRITTEN)
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    assert "\x1b" not in text
    assert text.replace("\r\n", "").count("\n") == 0
