"""The week as plain text for a terminal, and as plain data."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import date

from trainer.journal.charts import bar, columns, row_height
from trainer.journal.held_notes import AirAndVibrato
from trainer.journal.next_week import next_thing, trouble_words
from trainer.journal.plain_data import plain
from trainer.journal.statistics import Spread
from trainer.journal.technique import Change, Technique, technique_words
from trainer.journal.time_spent import AskedDone, DayTime
from trainer.journal.trouble import KnotWork, Trouble
from trainer.journal.tuning_map import NoteTuning, TuningMap
from trainer.journal.week_summary import Week

WIDTH = 80
CHART_ROWS = 4
"""Rows above and below the line of a tuning map."""
ENOUGH_FOR_THE_MAP = 3
"""A note heard less often is left blank in the map."""
FURTHEST_SHOWN = 5
"""Notes, the furthest out of tune first."""
MOST_APART = 3
"""Notes that differ by the side they are reached from."""
_BAR = 28
"""Columns of the longest bar."""
_INDENT = "  "


def week_text(week: Week, width: int = WIDTH) -> str:
    """The week to read in a terminal; block characters, no colour."""
    sections = (
        _title(week),
        _next(week, width),
        _days(week),
        _kinds(week),
        _asked(week),
        *(_tuning(tuning, width) for tuning in week.tuning),
        _scales(week),
        _troubles(week, width),
        _knots(week, width),
        _air(week, width),
        _listed("Better than the week before", week.better, width),
        _remarks(week, width),
    )
    return "\n\n".join("\n".join(lines) for lines in map(list, sections) if lines) + "\n"


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
        f"{times_words(week.sessions, 'session')} on {week.days_practised} of 7 days, "
        f"{week.minutes:.0f} minutes, {times_words(week.rounds, 'round')}"
    )


def _next(week: Week, width: int) -> Iterator[str]:
    yield "One thing for next week"
    yield from _wrapped(next_thing(week).sentence, width)
    for evidence in next_thing(week).evidence:
        yield from _wrapped(evidence, width, _INDENT * 2)


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
    return (
        f"{name}  {bar(day.minutes, full, _BAR)} {day.minutes:>4.0f} min, "
        f"{day.played_minutes:.0f} of them playing"
    )


def _kinds(week: Week) -> Iterator[str]:
    if not week.kinds:
        return
    yield "Playing by kind"
    full = week.kinds[0].played_minutes
    for kind in week.kinds:
        yield (
            f"{_INDENT}{kind.kind:<12} {bar(kind.played_minutes, full, _BAR)} "
            f"{kind.played_minutes:>5.1f} min, {times_words(kind.rounds, 'round')}"
        )


def _asked(week: Week) -> Iterator[str]:
    if not week.asked:
        return
    yield "Asked and done, a box for each day it was asked for"
    for asked in week.asked:
        yield _INDENT + _asked_line(asked)


def _asked_line(asked: AskedDone) -> str:
    boxes = "■" * asked.days_done + "□" * (asked.days_asked - asked.days_done)
    wanted = f" of {asked.minutes_asked:.0f}" if asked.minutes_asked is not None else ""
    return (
        f"{cut(asked.title, 27):<27} {boxes:<7} {asked.days_done} of {asked.days_asked} days, "
        f"{times_words(asked.rounds, 'round')}, {asked.played_minutes:.0f}{wanted} min"
    )


def _tuning(tuning: TuningMap, width: int) -> Iterator[str]:
    known = [note for note in tuning.notes if note.cents.count >= ENOUGH_FOR_THE_MAP]
    yield f"Tuning of the {tuning.instrument}, median of each note in cents, low to high"
    if known:
        yield from _tuning_chart(known)
        yield ""
        yield f"{_INDENT}furthest out:"
        for note in sorted(known, key=lambda note: -abs(note.cents.median))[:FURTHEST_SHOWN]:
            yield _INDENT * 2 + _tuning_line(note)
    for note in most_apart(tuning):
        yield from _wrapped(direction_words(note), width)
    rare = [note.written for note in tuning.notes if note.cents.count < ENOUGH_FOR_THE_MAP]
    if rare:
        yield f"{_INDENT}heard too seldom to say: {cut(' '.join(rare), 50)}"


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
    # 39 notes, the flute's whole range, are 78 columns: the label may take only what is left
    spaced = gap.join(cells) if len(cells) <= 35 else cells
    return f"{label:>9} {spaced}".rstrip()


def _accidental(written: str) -> str:
    sign = written[1:].rstrip("-0123456789")
    return {"#": "♯", "b": "♭", "##": "x", "bb": "𝄫"}.get(sign, " ")


def _tuning_line(note: NoteTuning) -> str:
    cents = note.cents
    side = "sharp" if cents.median > 0 else "flat"
    return (
        f"{note.written:<4} {cents.median:+5.0f} {side:<5}  half of {cents.count} notes from "
        f"{cents.low:+.0f} to {cents.high:+.0f}"
    )


def most_apart(tuning: TuningMap) -> list[NoteTuning]:
    """The notes that stand most differently going up and coming down; no more than three."""
    apart = {note: note.apart_cents for note in tuning.notes}
    found = [note for note, cents in apart.items() if cents is not None]
    return sorted(found, key=lambda note: -abs(apart[note] or 0.0))[:MOST_APART]


def direction_words(note: NoteTuning) -> str:
    """'G5 stands at +9 cents going up, at 0 coming down (of 14 and 13 notes)'."""
    up, down = note.rising, note.falling
    assert up is not None, "only notes that are apart come here"
    assert down is not None, "only notes that are apart come here"
    return (
        f"{note.written} stands at {_signed(up.median)} cents going up, at {_signed(down.median)} "
        f"coming down (of {up.count} and {down.count} notes)"
    )


def _signed(cents: float) -> str:
    """'+9', '−4', '0'."""
    words = f"{cents:+.0f}"
    return "0" if words in ("+0", "-0") else words.replace("-", "−")


def _scales(week: Week) -> Iterator[str]:
    if not week.techniques:
        return
    yield "Scales: evenness, median (middle half), and the fastest tempo held twice"
    for technique in week.techniques:
        yield _INDENT + _scale_line(technique)


def _scale_line(technique: Technique) -> str:
    even = spread_words(technique.evenness_ms, "ms") if technique.evenness_ms else "not heard"
    return (
        f"{cut(technique_words(technique), 31):<31} {even:<16} {even_trend(technique):<10} "
        f"{tempo_words(technique)}"
    ).rstrip()


def even_trend(technique: Technique) -> str:
    """An arrow and a signed figure; down is more even."""
    change = technique.evenness_change
    if change is None:
        return ""
    if not change.clear:
        return "→ as before"
    return f"{'↘' if change.change < 0 else '↗'} {change.change:+.0f} ms"


def tempo_words(technique: Technique) -> str:
    """The fastest tempo held twice, and its change on the week before."""
    if technique.secure_bpm is None:
        return "none yet" if technique.secure_before_bpm is None else "not this week"
    if technique.secure_before_bpm is None:
        return f"{technique.secure_bpm:g}"
    change = technique.secure_bpm - technique.secure_before_bpm
    arrow = "→" if change == 0 else "↗" if change > 0 else "↘"
    return f"{technique.secure_bpm:g} {arrow}{f' {change:+g}' if change else ''}"


def _troubles(week: Week, width: int) -> Iterator[str]:
    if not week.troubles:
        return
    yield "Steps that went wrong most often"
    for trouble in week.troubles:
        yield from _wrapped(f"{step_arrow(trouble):<14} {trouble_words(trouble)}", width)


def step_arrow(trouble: Trouble) -> str:
    """'F#5 → G5'."""
    return f"{trouble.before} → {trouble.written}" if trouble.before else f"start {trouble.written}"


def _knots(week: Week, width: int) -> Iterator[str]:
    if not week.knots:
        return
    yield "Knots taken out"
    for knot in week.knots:
        yield from _wrapped(f"{cut(knot.title, 34):<34} {knot_words(knot)}", width)


def knot_words(knot: KnotWork) -> str:
    """'solved, 7 rounds, held twice at 36'."""
    held = f", held twice at {knot.secure_bpm:g}" if knot.secure_bpm else ""
    if not knot.rounds:
        return f"still open from the week before, not touched{held}"
    state = "solved" if knot.solved else "still open"
    return f"{state}, {times_words(knot.rounds, 'round')}{held}"


def _air(week: Week, width: int) -> Iterator[str]:
    lines = [
        f"{name:<26} {spread_words(found, unit, 1)} of {found.count}"
        + (f"; {change_words(change, unit, 1)}" if change else "")
        for name, found, change, unit in air_figures(week.air)
    ]
    if lines:
        yield "Air and vibrato, median (middle half)"
    for line in lines:
        yield from _wrapped(line, width)


def air_figures(air: AirAndVibrato) -> Iterator[tuple[str, Spread, Change | None, str]]:
    """Name, figure, change on the week before and unit of all that was heard."""
    figures = (
        ("between two breaths", air.breath_gap_s, air.breath_gap_change, "s"),
        ("long tones, end to start", air.held_drift_cents, air.held_drift_change, "cents"),
        ("vibrato, swings a second", air.vibrato_hz, air.vibrato_hz_change, ""),
        ("vibrato, to either side", air.vibrato_cents, air.vibrato_cents_change, "cents"),
    )
    for name, found, change, unit in figures:
        if found is not None:
            yield name, found, change, unit


def change_words(change: Change, unit: str, decimals: int) -> str:
    """'as before', or 'the week before 4.1 s' where that is more than chance does."""
    if not change.clear:
        return "as before"
    return f"the week before {figure_words(change.before, decimals)}{f' {unit}' if unit else ''}"


def _remarks(week: Week, width: int) -> Iterator[str]:
    if not week.remarks:
        return
    yield "Own remarks"
    for remark in week.remarks:
        words = ". ".join(part for part in (remark.felt, " ".join(remark.remark.split())) if part)
        private = " (private)" if remark.private else ""
        yield from _wrapped(f"{remark.day:%a} {remark.day.day}: {words}{private}", width)


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
    """The text, ended by '…' where it is longer."""
    return text if len(text) <= length else text[: length - 1] + "…"


def day_words(day: date) -> str:
    """'Friday 20 November'."""
    return f"{day:%A} {day.day} {day:%B}"
