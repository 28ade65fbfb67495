"""The planned days as a calendar file that any calendar reads (iCalendar, RFC 5545)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime

from trainer.disk.outside_text import visible
from trainer.routine.plan import PlannedExercise

MOST_OCTETS = 75
"""Of a line, without its end (RFC 5545, 3.1)."""
ESCAPES = {"\\": "\\\\", ";": "\\;", ",": "\\,", "\n": "\\n"}
"""Of text (RFC 5545, 3.3.11)."""


def calendar_file(
    title: str, days: Sequence[tuple[date, Sequence[PlannedExercise]]], written: datetime
) -> str:
    """An entry for each day on which something is to be played, the exercises in its words.

    A day's entry lasts the whole day: when to practise is the student's own. `written`: with its
    offset from UTC. Lines end in CR LF and are folded at 75 octets.
    """
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//flute practice trainer//EN",
        "CALSCALE:GREGORIAN",
    ]
    for day, planned in days:
        if any(exercise.rounds for exercise in planned):
            lines += _entry(title, day, planned, written)
    lines.append("END:VCALENDAR")
    return "".join(f"{folded}\r\n" for line in lines for folded in _folded(line))


def _entry(
    title: str, day: date, planned: Sequence[PlannedExercise], written: datetime
) -> list[str]:
    minutes = max(1, round(sum(exercise.minutes for exercise in planned)))
    told = [f"{each.title}: {each.detail}" if each.detail else each.title for each in planned]
    return [
        "BEGIN:VEVENT",
        f"UID:{day:%Y%m%d}-{_as_id(title)}@flute-practice",
        f"DTSTAMP:{written.astimezone(UTC):%Y%m%dT%H%M%SZ}",
        f"DTSTART;VALUE=DATE:{day:%Y%m%d}",
        f"SUMMARY:{_text(f'{title}, about {minutes} min')}",
        f"DESCRIPTION:{_text(chr(10).join(told))}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def _as_id(title: str) -> str:
    return "-".join("".join(c if c.isascii() and c.isalnum() else " " for c in title).split())


def _text(words: str) -> str:
    shown = "\n".join(visible(line) for line in words.splitlines())
    return "".join(ESCAPES.get(character, character) for character in shown)


def _folded(line: str) -> Iterator[str]:
    """At most 75 octets a line; a line that goes on begins with a blank."""
    part = ""
    for character in line:
        if len((part + character).encode()) > MOST_OCTETS:
            yield part
            part = " "
        part += character
    yield part
