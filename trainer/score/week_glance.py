"""A routine's coming week at a glance: a row an exercise, a column a day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from trainer.music.key import Key, Mode
from trainer.paper.page_words import escape
from trainer.paper.parts import head
from trainer.routine.model import Routine
from trainer.routine.plan import PlannedExercise
from trainer.score.asked import flowing, whole_minutes
from trainer.wording.days import date_words, day_words, short_day

PLAYED = "x"
"""Stands where an exercise without a key is played."""
FREE = "free"
_NAME, _CELL = 22, 8
"""Columns of an exercise's name and of a day."""
_STYLE = """
@page { size: A4 landscape; margin: 14mm }
body { font: 12pt/1.35 Liberation, "Noto Serif", "DejaVu Serif", serif; color: black; margin: 0 }
h1 { font-size: 20pt; margin: 0 0 1mm }
p { margin: 0 0 3mm }
table { border-collapse: collapse; width: 100%; margin: 4mm 0 }
th, td { border: 0.3pt solid #666; padding: 2mm; text-align: left; height: 10mm }
th { font-weight: normal; color: #333 }
tr > :first-child { font-weight: bold; width: 25% }
td.unplayed { background: #eee }
.words { font-style: italic }
"""


@dataclass(frozen=True)
class WeekGlance:
    """What stands where in the table."""

    days: tuple[date, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    """(exercise's name, for each day its key, PLAYED or '')."""
    minutes: tuple[int, ...]
    """Of each day; 0 on a free one."""
    words: tuple[str, ...]
    """The week's words for each day, or ''."""


def week_glance(days: Sequence[date], planned: Sequence[Sequence[PlannedExercise]]) -> WeekGlance:
    """The table of these days; exercises come in the order in which they are first played."""
    names = dict.fromkeys(one.id for day in planned for one in day if one.rounds)
    rows = tuple((name, tuple(_cell(name, day) for day in planned)) for name in names)
    played = [any(one.rounds for one in day) for day in planned]
    minutes = tuple(
        whole_minutes(sum(one.minutes for one in day)) if plays else 0
        for day, plays in zip(planned, played, strict=True)
    )
    return WeekGlance(tuple(days), rows, minutes, tuple(map(_words_of, planned)))


def days_from(first: date) -> tuple[date, ...]:
    """Seven days running."""
    return tuple(first + timedelta(days=later) for later in range(7))


def _cell(name: str, day: Sequence[PlannedExercise]) -> str:
    exercise = next((one for one in day if one.id == name and one.rounds), None)
    if exercise is None:
        return ""
    key = exercise.rounds[0].key
    return PLAYED if key is None else short_key(key)


def short_key(key: Key) -> str:
    """'Eb' for E flat major, 'F# min' for F sharp minor."""
    return key.tonic if key.mode is Mode.MAJOR else f"{key.tonic} min"


def _words_of(day: Sequence[PlannedExercise]) -> str:
    return next((one.words for one in day if one.id == "words of the day"), "")


def _span(days: Sequence[date]) -> str:
    first, last = days[0], days[-1]
    return f"{day_words(first)} to {day_words(last)} {last.year}"


def glance_text(routine: Routine, glance: WeekGlance) -> str:
    """The table in 80 columns, and the days' words below it."""
    heads = [short_day(day) for day in glance.days]
    lines = [f"{routine.title} · {routine.instrument}", _span(glance.days), "", _line("", heads)]
    lines += [_line(name, cells) for name, cells in glance.rows]
    lines.append(_line("minutes", [str(count) if count else FREE for count in glance.minutes]))
    for day, words in zip(glance.days, glance.words, strict=True):
        if words:
            lines += ["", f"{day:%A}: {' '.join(flowing(words))}"]
    return "\n".join(lines)


def _line(name: str, cells: Sequence[str]) -> str:
    shown = name if len(name) <= _NAME else f"{name[: _NAME - 3]}..."
    return f"{shown:<{_NAME}}  {''.join(cell.ljust(_CELL) for cell in cells)}".rstrip()


def glance_json(routine: Routine, glance: WeekGlance) -> dict[str, Any]:
    """The same for a program."""
    return {
        "title": routine.title,
        "days": [
            {
                "day": str(day),
                "minutes": minutes,
                "words": words,
                "exercises": {name: cells[n] for name, cells in glance.rows if cells[n]},
            }
            for n, (day, minutes, words) in enumerate(
                zip(glance.days, glance.minutes, glance.words, strict=True)
            )
        ],
    }


def glance_html(routine: Routine, glance: WeekGlance) -> str:
    """The table as a page for the wall or the stand, with room to tick what was done."""
    heads = "".join(f"<th>{day:%A}<br>{date_words(day)}</th>" for day in glance.days)
    rows = "".join(
        f"<tr><td>{escape(name)}</td>{''.join(_cell_html(cell) for cell in cells)}</tr>"
        for name, cells in glance.rows
    )
    minutes = "".join(f"<td>{count} min</td>" if count else f"<td class='unplayed'>{FREE}</td>"
                      for count in glance.minutes)  # fmt: skip
    words = "".join(
        f'<p class="words">{day:%A}: {escape(" ".join(flowing(said)))}</p>'
        for day, said in zip(glance.days, glance.words, strict=True)
        if said
    )
    return (
        f"{head(routine.title, _STYLE)}<h1>{escape(routine.title)}</h1>"
        f"<p>{_span(glance.days)} · {escape(routine.instrument)}</p>"
        f"<table><tr><th></th>{heads}</tr>{rows}<tr><td>about</td>{minutes}</tr></table>{words}"
        "</body></html>"
    )


def _cell_html(cell: str) -> str:
    if not cell:
        return '<td class="unplayed"></td>'
    return f"<td>{'' if cell == PLAYED else escape(_printed(cell))}</td>"


def _printed(cell: str) -> str:
    """Signs as they are printed, the mode written out."""
    tonic, _, mode = cell.partition(" ")
    sign = {"b": "♭", "#": "♯"}.get(tonic[1:], tonic[1:])
    return f"{tonic[0]}{sign}{' minor' if mode else ''}"
