"""The long view as plain text for a terminal, and as plain data."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import date

from trainer.journal.bests import LONG, Best, KeyRest
from trainer.journal.charts import bar
from trainer.journal.long_view import LongView, NoteCourse, TimeSpent
from trainer.journal.outline import PiecePlayed
from trainer.journal.periods import By, Period
from trainer.journal.plain_data import plain
from trainer.journal.statistics import CHANCE, Spread
from trainer.journal.trend import FEWEST_PERIODS, Trend
from trainer.journal.tuning_map import OUT_OF_TUNE_CENTS
from trainer.journal.week_text import WIDTH, cut, spread_words, times_words
from trainer.music.articulations import AnyArticulation
from trainer.music.pitch import sharp_name
from trainer.wording.days import date_words

MOST_ROWS = 12
"""Rows a section; the rest is in the plain data."""
FEWEST_FILLED = 2
"""Periods with a value, before a course is drawn."""
MOST_COLUMNS = 24
"""Periods drawn, the last ones; the rest is in the plain data."""
_NAME = 30
"""Columns of a name."""
_BAR = 16
"""Columns of the longest bar."""
_INDENT = "  "
_STEPS = "▁▂▃▄▅▆▇█"
_NOTHING = "·"
_STEADILY = (
    f"Steadily: over {FEWEST_PERIODS} periods or more, in an order that chance alone would give "
    f"less\nthan once in {1 / CHANCE:.0f} times."
)


def long_json(view: LongView) -> dict[str, object]:
    """The long view as JSON-ready data; numbers unrounded."""
    return {key: plain(value) for key, value in asdict(view).items()}


def long_text(view: LongView) -> str:
    """The long view to read in a terminal; block characters, no colour."""
    sections = (
        _title(view),
        _time(view),
        _evenness(view),
        _held(view),
        _tuning(view),
        _bests(view.bests),
        _resting(view),
    )
    text = "\n\n".join("\n".join(lines) for lines in map(list, sections) if lines) + "\n"
    return text + (f"\n{_STEADILY}\n" if "steadily" in text else "")


def _title(view: LongView) -> Iterator[str]:
    whose = f"{view.student}, " if view.student else ""
    yield f"{whose}{_day(view.first_day)} to {_day(view.last_day)}, by {view.by}"
    sessions = sum(spent.sessions for spent in view.time)
    days = sum(spent.days_practised for spent in view.time)
    minutes = sum(spent.minutes for spent in view.time)
    yield f"{times_words(sessions, 'session')} on {times_words(days, 'day')}, {minutes:.0f} minutes"


def _day(day: date) -> str:
    return f"{date_words(day)} {day.year}"


def _time(view: LongView) -> Iterator[str]:
    full = max((spent.minutes for spent in view.time), default=0.0)
    if not full:
        return
    yield f"Minutes by {view.by}; then a usual day (half of the days lie between these)"
    if len(view.periods) > MOST_COLUMNS:
        yield f"{_INDENT}{len(view.periods) - MOST_COLUMNS} earlier {view.by}s with --json."
    rows = list(zip(view.periods, view.time, strict=True))
    for period, spent in rows[-MOST_COLUMNS:]:
        yield _INDENT + _time_line(view.by, period, spent, full).rstrip()
    yield _INDENT + _minutes_trend(view)


def _time_line(by: By, period: Period, spent: TimeSpent, full: float) -> str:
    name = _period_name(by, period)
    if not spent.sessions:
        return f"{name}  {_NOTHING}"
    a_day = spread_words(spent.minutes_a_day, "min") if spent.minutes_a_day else ""
    return (
        f"{name}  {bar(spent.minutes, full, _BAR)} {spent.minutes:>5.0f} min, "
        f"{times_words(spent.days_practised, 'day'):<7} {a_day:<18}"
        f"{'' if period.whole else '(not whole)'}"
    )


def _period_name(by: By, period: Period) -> str:
    forms = {By.WEEK: "%d %b %Y", By.MONTH: "%b %Y", By.YEAR: "%Y"}
    return period.first_day.strftime(forms[by])


def _minutes_trend(view: LongView) -> str:
    moved = view.minutes_trend
    if moved is None:
        return f"Whether that rises or falls: {FEWEST_PERIODS} whole {view.by}s are needed to say."
    if not moved.clear:
        return f"No steady rise or fall over {moved.periods} whole {view.by}s."
    way = "Rising" if moved.a_period > 0 else "Falling"
    return (
        f"{way} steadily: about {moved.a_period:+.0f} minutes a {view.by}, over {moved.periods} "
        f"whole {view.by}s."
    )


def _evenness(view: LongView) -> Iterator[str]:
    shown = [each for each in view.courses if _filled(each.evenness_ms) >= FEWEST_FILLED]
    if not shown:
        return
    yield f"Evenness, a column a {view.by}: lower is more even; first and last median"
    for course in shown[:MOST_ROWS]:
        medians = [each.median if each else None for each in course.evenness_ms]
        yield _course_line(course_name(course.piece, course.articulation), medians, "ms",
                           course.evenness_trend)  # fmt: skip
    yield from _more(len(shown))


def _held(view: LongView) -> Iterator[str]:
    shown = [each for each in view.courses if _filled(each.held_bpm) >= FEWEST_FILLED]
    if not shown:
        return
    yield f"Fastest tempo that held, a column a {view.by}; first and last"
    for course in shown[:MOST_ROWS]:
        name = course_name(course.piece, course.articulation)
        yield _course_line(name, course.held_bpm, "bpm", course.held_trend)
    yield from _more(len(shown))


def _filled(values: Sequence[object]) -> int:
    return sum(value is not None for value in values)


def _more(count: int) -> Iterator[str]:
    if count > MOST_ROWS:
        yield f"{_INDENT}{count - MOST_ROWS} more with --json."


def course_name(piece: PiecePlayed, articulation: AnyArticulation) -> str:
    """'E flat major, legato tongue'."""
    return f"{piece.name or 'no key'}, {articulation}"


def _course_line(
    name: str, values: Sequence[float | None], unit: str, moved: Trend | None, sign: str = ""
) -> str:
    known = [value for value in values if value is not None]
    ends = f"{known[0]:{sign}.0f} to {known[-1]:{sign}.0f} {unit}"
    drawn = steps(values[-MOST_COLUMNS:])
    return f"{_INDENT}{cut(name, _NAME):<{_NAME}} {drawn} {ends:<14} {_way(moved)}".rstrip()


def _way(moved: Trend | None) -> str:
    if moved is None:
        return ""
    if not moved.clear:
        return "→"
    return "↗ steadily" if moved.a_period > 0 else "↘ steadily"


def steps(values: Sequence[float | None]) -> str:
    """A character a value, higher for more; a dot where there is none."""
    known = [value for value in values if value is not None]
    low, high = min(known, default=0.0), max(known, default=0.0)
    share = (len(_STEPS) - 1) / (high - low) if high > low else 0.0
    return "".join(
        _NOTHING if value is None else _STEPS[round((value - low) * share)] for value in values
    )


def _tuning(view: LongView) -> Iterator[str]:
    shown = [note for note in view.tuning if _worth_showing(note)]
    if not shown:
        return
    yield f"Tuning of notes that stand off or move steadily, a column a {view.by}: up is sharp"
    for note in shown[:MOST_ROWS]:
        medians = [each.median if each else None for each in note.cents]
        name = f"{sharp_name(note.midi)}, {note.instrument}"
        nearer = _nearer(note.trend)
        line = _course_line(name, medians, "cents", None, sign="+")
        yield f"{line} {nearer}".rstrip()
    yield from _more(len(shown))


def _nearer(moved: Trend | None) -> str:
    if moved is None or not moved.clear:
        return ""
    return "nearer, steadily" if moved.a_period < 0 else "worse, steadily"


def _worth_showing(note: NoteCourse) -> bool:
    latest: Spread | None = next((each for each in reversed(note.cents) if each), None)
    off = latest is not None and abs(latest.median) >= OUT_OF_TUNE_CENTS
    moves = note.trend is not None and note.trend.clear
    return _filled(note.cents) >= FEWEST_FILLED and (off or moves)


def _bests(found: Sequence[Best]) -> Iterator[str]:
    if not found:
        return
    yield "Fastest tempo that ever held, and the day of the second time"
    fastest = sorted(found, key=lambda best: best.held_on, reverse=True)
    for best in fastest[:MOST_ROWS]:
        name = cut(course_name(best.piece, best.articulation), _NAME)
        yield f"{_INDENT}{name:<{_NAME}} {best.tempo_bpm:>4.0f} bpm  {_day(best.held_on)}"
    yield from _more(len(found))


def _resting(view: LongView) -> Iterator[str]:
    rested = [rest for rest in view.resting_keys if rest.last_day is not None]
    never = [rest.key for rest in view.resting_keys if rest.last_day is None]
    if not rested and not never:
        return
    yield f"Keys not played for more than {LONG.days} days"
    for rest in rested:
        yield f"{_INDENT}{_rest_line(rest, view.last_day)}"
    if never:
        yield from _wrapped_list("Never written down", never)


def _rest_line(rest: KeyRest, today: date) -> str:
    assert rest.last_day is not None, "the others are listed as never played"
    return f"{rest.key:<16} last on {_day(rest.last_day)}, {(today - rest.last_day).days} days ago"


def _wrapped_list(title: str, names: Sequence[str]) -> list[str]:
    words = f"{title}: {', '.join(names)}."
    return textwrap.wrap(words, WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT * 2)
