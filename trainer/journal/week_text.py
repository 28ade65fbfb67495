"""The week as plain text for a terminal, and as plain data."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict

from trainer.journal.charts import bar, columns, row_height
from trainer.journal.findings import FindingKind, WeekFinding, share_a_step
from trainer.journal.held_notes import AirAndVibrato
from trainer.journal.next_week import next_thing
from trainer.journal.plain_data import plain
from trainer.journal.statistics import Spread
from trainer.journal.technique import Change, Technique, technique_words
from trainer.journal.time_spent import AskedDone, DayTime
from trainer.journal.trouble import KnotWork
from trainer.journal.tuning_map import OUT_OF_TUNE_CENTS, NoteTuning, TuningMap
from trainer.journal.week_summary import Week
from trainer.wording.days import day_words, short_day
from trainer.wording.sentence_list import say

WIDTH = 76
"""Columns: a terminal of 80 less the margins of a screen."""
PAGE_ROWS = 21
"""Rows of one page: a terminal of 24 less the keys beneath."""
CHART_ROWS = 2
"""Rows above and below the line of a tuning map."""
ENOUGH_FOR_THE_MAP = 3
"""A note heard less often is left out of the map."""
FURTHEST_SHOWN = 3
"""Notes, the furthest out of tune first."""
MOST_APART = 3
"""Notes that differ by the side they are reached from."""
MOST_LINES = 5
"""Lines of a section; the journal holds the rest."""
LONGEST_NOTE = 4 * WIDTH
"""Characters of the teacher's message."""
_BAR = 24
"""Columns of the longest bar."""
_INDENT = "  "


def week_text(week: Week, from_teacher: str = "", lesson: str = "", width: int = WIDTH) -> str:
    """The week to read in a terminal; block characters, no colour. `from_teacher`: the message
    that stands now; `lesson`: when the next one is, and what it is to hear."""
    return "\n\n".join(_sections(week, from_teacher, lesson, width)) + "\n"


def week_pages(
    week: Week, from_teacher: str = "", lesson: str = "", width: int = WIDTH
) -> tuple[str, ...]:
    """The same in pages of a plain terminal, what to do next on the first."""
    pages: list[str] = []
    for section in _sections(week, from_teacher, lesson, width):
        joined = f"{pages[-1]}\n\n{section}" if pages else section
        if pages and joined.count("\n") + 1 > PAGE_ROWS:
            pages.append(section)
        else:
            pages[-1:] = [joined]
    return tuple(pages)


def _sections(week: Week, from_teacher: str, lesson: str, width: int) -> Iterator[str]:
    sections = (
        _title(week),
        _listed(
            "From your teacher", (cut(from_teacher, LONGEST_NOTE),) * bool(from_teacher), width
        ),
        _wrapped(lesson, width, indent="") if lesson else (),
        _next(week, width),
        _days(week),
        _listed("Trouble spots", spot_lines(week), width),
        _tempos(week),
        _listed("To ask at the lesson", week.to_ask, width),
        _listed("Better than last week", _other_gains(week)[:MOST_LINES], width),
        _asked(week),
        _air(week, width),
        _remarks(week, width),
        *(_tuning(tuning, width) for tuning in week.tuning),
    )
    return ("\n".join(lines) for lines in map(list, sections) if lines)


def week_json(week: Week) -> dict[str, object]:
    """The week as JSON-ready data; numbers unrounded, private remarks left out."""
    facts = {
        **asdict(week),
        "remarks": [
            {"day": remark.day, "felt": remark.felt, "remark": remark.remark}
            for remark in week.remarks
            if not remark.private
        ],
        "next_thing": asdict(next_thing(week)),
        "sessions": week.sessions,
        "rounds": week.rounds,
        "minutes": week.minutes,
        "days_practised": week.days_practised,
    }
    return {key: plain(value) for key, value in facts.items()}


def _title(week: Week) -> Iterator[str]:
    whose = f"{week.student}, " if week.student else ""
    yield f"{whose}{day_words(week.first_day)} to {day_words(week.ending)} {week.ending.year}"
    yield (
        f"{week.days_practised} of 7 days{last_week(week.days_practised, week.days_before)}, "
        f"{week.minutes:.0f} minutes{last_week(round(week.minutes), round(week.minutes_before))}"
    )


def last_week(now: int | str, before: int | str) -> str:
    """' (last week 4)' where there was one, and it was otherwise."""
    return f" (last week {before})" if before and before != now else ""


def _next(week: Week, width: int) -> Iterator[str]:
    yield "One thing for next week"
    yield from _wrapped(next_thing(week).sentence, width)
    for evidence in next_thing(week).evidence:
        yield from _wrapped(evidence, width)


def _days(week: Week) -> Iterator[str]:
    full = max((day.minutes for day in week.days), default=0.0)
    if not full:
        return
    yield "Minutes by day"
    for day in week.days:
        yield _INDENT + _day_line(day, full)


def _day_line(day: DayTime, full: float) -> str:
    name = f"{day.day:%a} {day.day.day:>2}"
    if not day.sessions:
        return f"{name}  ·"
    playing = round(day.played_minutes)
    return (
        f"{name}  {bar(day.minutes, full, _BAR)} {day.minutes:>4.0f}, "
        f"{f'{playing} of them' if playing else 'hardly any of it'} playing"
    )


def spot_lines(week: Week) -> tuple[str, ...]:
    """What still goes wrong, what is fixed, and what was left alone, a line each."""
    wrong = [
        _line(
            "spot went wrong",
            spot_note=found.what,
            share=f"{found.times} of {found.chances}",
            then=_then(found),
        )
        for found in week.findings
        if found.kind in (FindingKind.SPOT, FindingKind.OPENING)
    ]
    named = [found.what for found in week.findings]
    worked = [
        knot
        for knot in week.knots
        if "–" in knot.title and not any(share_a_step(name, knot.title) for name in named)
    ]
    stuck = [
        _line("tempo not rising", what=found.what, bpm=f"{found.bpm:g}")
        for found in week.findings
        if found.kind is FindingKind.TEMPO and found.bpm is not None
    ]
    return (*wrong, *stuck, *filter(None, map(_spot_line, worked)))[:MOST_LINES]


def _line(name: str, **values: object) -> str:
    """A sentence of the list as a line of its own, which ends without a stop."""
    return say(name, **values).removesuffix(".")


def _then(found: WeekFinding) -> str:
    """', last week 9 of 22' where it was met then."""
    if not found.chances_before:
        return ""
    return f", last week {found.times_before} of {found.chances_before}"


def _spot_line(knot: KnotWork) -> str:
    if not knot.rounds:
        return _line("spot left alone", spot_note=knot.title)
    if not knot.solved:
        return ""
    now, before = knot.secure_bpm, knot.secure_before_bpm
    tempo = f" at {now:g}" if now else ""
    then = f", last week at {before:g}" if now and before and before != now else ""
    return _line("spot clean now", spot_note=knot.title, tempo=tempo, then=then)


def _other_gains(week: Week) -> tuple[str, ...]:
    """What got better and isn't told with the tempos."""
    told = tuple(f"{technique_words(item)}:" for item in week.techniques)
    return tuple(gain for gain in week.better if not gain.startswith(told))


def _tempos(week: Week) -> Iterator[str]:
    """Only what held, and what changed since last week first."""
    held = [item for item in week.techniques if item.secure_bpm is not None]
    if not held:
        return
    yield "Fastest tempo that held (at least twice)"
    changed = sorted(held, key=lambda item: item.secure_bpm == item.secure_before_bpm)
    for item in changed[:MOST_LINES]:
        words = f"{cut(technique_words(item), 34):<34} {tempo_words(item):<10}"
        yield f"{_INDENT}{words} {even_words(item)}".rstrip()


def even_words(technique: Technique) -> str:
    """'more even', 'less even'; empty where nothing changed for sure."""
    change = technique.evenness_change
    if change is None or not change.clear:
        return ""
    return "more even" if change.change < 0 else "less even"


def _asked(week: Week) -> Iterator[str]:
    if not week.asked:
        return
    yield "Asked and done, a box for each day"
    titles = asked_titles(week.asked)
    for asked, title in zip(week.asked[:MOST_LINES], titles, strict=False):
        yield _INDENT + _asked_line(asked, title)
    if len(week.asked) > MOST_LINES:
        yield f"{_INDENT}and {len(week.asked) - MOST_LINES} more"


def asked_titles(asked: Sequence[AskedDone]) -> list[str]:
    """Each exercise's title, with its name before it where two have the same."""
    times = Counter(each.title for each in asked)
    return [
        each.title if times[each.title] == 1 else f"{each.exercise_id}: {each.title}"
        for each in asked
    ]


def _asked_line(asked: AskedDone, title: str) -> str:
    boxes = "■" * asked.days_done + "□" * (asked.days_asked - asked.days_done)
    return f"{cut(title, 34):<34} {boxes:<7} {asked.days_done} of {asked.days_asked} days"


def _tuning(tuning: TuningMap, width: int) -> Iterator[str]:
    known = [note for note in tuning.notes if note.cents.count >= ENOUGH_FOR_THE_MAP]
    yield f"Tuning of the {tuning.instrument}, note by note, in cents"
    if known:
        yield from _tuning_chart(_that_fit(known, width))
        off = [note for note in known if abs(note.cents.median) >= OUT_OF_TUNE_CENTS]
        for note in sorted(off, key=lambda note: -abs(note.cents.median))[:FURTHEST_SHOWN]:
            yield _INDENT + _tuning_line(note)
    for note in most_apart(tuning):
        yield from _wrapped(direction_words(note), width)
    rare = [note.written for note in tuning.notes if note.cents.count < ENOUGH_FOR_THE_MAP]
    if rare:
        yield f"{_INDENT}heard too seldom to say: {cut(' '.join(rare), 44)}"


def _that_fit(notes: Sequence[NoteTuning], width: int) -> Sequence[NoteTuning]:
    """All, or where the window is narrow the notes furthest out, low to high."""
    most = width - LABEL
    if len(notes) <= most:
        return notes
    furthest = sorted(notes, key=lambda note: -abs(note.cents.median))[:most]
    return sorted(furthest, key=lambda note: note.midi)


LABEL = 10
"""Columns to the left of the map."""


def _tuning_chart(notes: Sequence[NoteTuning]) -> Iterator[str]:
    """Sharp above the line and flat below it, two columns a note, names underneath."""
    medians = [note.cents.median for note in notes]
    step = row_height(medians, CHART_ROWS)
    above, below = columns(medians, step, CHART_ROWS)
    for number, row in enumerate(above):
        side = "sharp" if number == 0 else ""
        yield _chart_row(f"{side:<5}{step * (CHART_ROWS - number):+4.0f}", row)
    yield _chart_row(f"{0:>9}", "─" * len(notes), "─")
    for number, row in enumerate(below, start=1):
        side = "flat" if number == CHART_ROWS else ""
        yield _chart_row(f"{side:<5}{-step * number:+4.0f}", row)
    yield _chart_row("", "".join(note.written[0] for note in notes))
    yield _chart_row("", "".join(_accidental(note.written) for note in notes))
    yield _chart_row("", "".join(note.written.lstrip("ABCDEFGb#") for note in notes))


def _chart_row(label: str, cells: str, gap: str = " ") -> str:
    # 39 notes, the flute's whole range, would be 78 columns
    spaced = gap.join(cells) if 2 * len(cells) + LABEL <= WIDTH else cells
    return f"{label:>9} {spaced}".rstrip()


def _accidental(written: str) -> str:
    sign = written[1:].rstrip("-0123456789")
    return {"#": "♯", "b": "♭", "##": "x", "bb": "𝄫"}.get(sign, " ")


def _tuning_line(note: NoteTuning) -> str:
    cents = note.cents.median
    side = "sharp" if cents > 0 else "flat"
    was = "" if note.before is None else f"   last week {_signed(note.before)}"
    return f"{note.written:<4} {_signed(cents):>4} {side:<5}{was}".rstrip()


def most_apart(tuning: TuningMap) -> list[NoteTuning]:
    """The notes that stand most differently going up and coming down; no more than three."""
    apart = {note: note.apart_cents for note in tuning.notes}
    found = [note for note, cents in apart.items() if cents is not None]
    return sorted(found, key=lambda note: -abs(apart[note] or 0.0))[:MOST_APART]


def direction_words(note: NoteTuning) -> str:
    """'G5 is at +9 going up and 0 coming down'."""
    up, down = note.rising, note.falling
    assert up is not None, "only notes that are apart come here"
    assert down is not None, "only notes that are apart come here"
    return (
        f"{note.written} is at {_signed(up.median)} going up and {_signed(down.median)} coming down"
    )


def _signed(cents: float) -> str:
    """'+9', '−4', '0'."""
    words = f"{cents:+.0f}"
    return "0" if words in ("+0", "-0") else words.replace("-", "−")


def even_trend(technique: Technique) -> str:
    """An arrow and a signed figure; down is more even."""
    change = technique.evenness_change
    if change is None:
        return ""
    if not change.clear:
        return "→ as before"
    return f"{'↘' if change.change < 0 else '↗'} {change.change:+.0f} ms"


def tempo_words(technique: Technique) -> str:
    """The fastest tempo that held twice, and its change on the week before; empty without one."""
    if technique.secure_bpm is None:
        return "" if technique.secure_before_bpm is None else "not this week"
    if technique.secure_before_bpm is None:
        return f"{technique.secure_bpm:g}"
    change = technique.secure_bpm - technique.secure_before_bpm
    arrow = "→" if change == 0 else "↗" if change > 0 else "↘"
    return f"{technique.secure_bpm:g} {arrow}{f' {change:+g}' if change else ''}"


def _air(week: Week, width: int) -> Iterator[str]:
    lines = list(air_lines(week.air))
    if lines:
        yield "Air and vibrato"
    for line in lines:
        yield from _wrapped(line, width)


def air_lines(air: AirAndVibrato) -> Iterator[str]:
    """'between two breaths 4.2 s, last week 3.6'."""
    for name, found, change, unit in air_figures(air):
        middle = f"{figure_words(found.median, 1)}{f' {unit}' if unit else ''}"
        yield f"{name} {middle}" + (f", {change_words(change, 1)}" if change else "")


def air_figures(air: AirAndVibrato) -> Iterator[tuple[str, Spread, Change | None, str]]:
    """Name, figure, change on the week before and unit of all that was heard."""
    figures = (
        ("between two breaths", air.breath_gap_s, air.breath_gap_change, "s"),
        ("long notes, end against start", air.held_drift_cents, air.held_drift_change, "cents"),
        ("vibrato, pulses a second", air.vibrato_hz, air.vibrato_hz_change, ""),
        ("vibrato, to each side", air.vibrato_cents, air.vibrato_cents_change, "cents"),
    )
    for name, found, change, unit in figures:
        if found is not None:
            yield name, found, change, unit


def change_words(change: Change, decimals: int) -> str:
    """'as last week', or 'last week 4.1' where that is more than chance does."""
    return f"last week {figure_words(change.before, decimals)}" if change.clear else "as last week"


def _remarks(week: Week, width: int) -> Iterator[str]:
    if not week.remarks:
        return
    yield "Your own words"
    for remark in week.remarks:
        words = ". ".join(part for part in (remark.felt, " ".join(remark.remark.split())) if part)
        private = " (private)" if remark.private else ""
        yield from _wrapped(f"{short_day(remark.day)}: {words}{private}", width)


def _listed(title: str, sentences: Sequence[str], width: int) -> Iterator[str]:
    if sentences:
        yield title
    for sentence in sentences:
        yield from _wrapped(sentence, width)


def _wrapped(text: str, width: int, indent: str = _INDENT) -> list[str]:
    return textwrap.wrap(
        text, width, initial_indent=indent, subsequent_indent=indent + _INDENT
    ) or [indent]


def spread_words(figure: Spread, unit: str, decimals: int = 0) -> str:
    """'18 ms (14–22)': median and middle half; below zero '−4 cents (−6 to −2)'."""
    low, high = figure_words(figure.low, decimals), figure_words(figure.high, decimals)
    to = "–" if figure.low >= 0 else " to "
    return f"{figure_words(figure.median, decimals)}{f' {unit}' if unit else ''} ({low}{to}{high})"


def figure_words(value: float, decimals: int) -> str:
    """With a true minus sign, and never a minus before nothing."""
    words = f"{value:.{decimals}f}"
    return words.replace("-", "" if float(words) == 0 else "−")


def times_words(count: int, what: str) -> str:
    """'1 round', '2 rounds'."""
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def cut(text: str, length: int) -> str:
    """The text on one line, ended by '…' where it is longer: no name begins a line of its own."""
    text = " ".join(text.splitlines())
    return text if len(text) <= length else text[: length - 1] + "…"
