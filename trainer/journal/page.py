"""The page to hand over at the lesson: one HTML file on one or two sheets of A4.

Nothing in it comes from elsewhere and nothing in it runs; private remarks stay out.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from html import escape

from trainer.journal.log import SessionLog
from trainer.journal.next_week import technique_words, trouble_words
from trainer.journal.page_plots import (
    evenness_plot,
    evenness_rounds,
    minutes_plot,
    most_played_key,
    note_name,
    tuning_plot,
)
from trainer.journal.page_style import STYLE
from trainer.journal.technique import Technique
from trainer.journal.time_spent import AskedDone
from trainer.journal.trouble import Trouble
from trainer.journal.tuning_map import TuningMap
from trainer.journal.week import Remark, Week
from trainer.journal.week_text import (
    ENOUGH_FOR_THE_MAP,
    cut,
    day_words,
    even_trend,
    spread_words,
    tempo_words,
    times_words,
)

# So much fits on two sheets; the journal holds the rest.
MOST_ASKED = 7
MOST_MAPS = 2
MOST_SCALES = 8
MOST_STEPS = 4
MOST_KNOTS = 4
MOST_BETTER = 3
MOST_REMARKS = 4
LONGEST_NAME = 24
LONGEST_TITLE = 40
LONGEST_SENTENCE = 120
LONGEST_REMARK = 180
FEWEST_EVENNESS_ROUNDS = 3

_NOTE = re.compile(r"\b[A-G](##?|bb?)\d\b")
_NOTHING_OUTSIDE = "default-src 'none'; style-src 'unsafe-inline'"


def lesson_page(week: Week, sessions: Sequence[SessionLog]) -> str:
    """The week as one self-contained HTML document; `sessions` are those the week was made from.

    Raises JournalError when the plotting library isn't installed.
    """
    body = (
        _title(week),
        _next(week),
        '<div class="pair">',
        _minutes(week),
        _asked(week.asked),
        "</div>",
        *(_tuning(tuning) for tuning in week.tuning[:MOST_MAPS]),
        _scales(week.techniques),
        _evenness(week, sessions),
        '<div class="pair">',
        f"<div>{_troubles(week.troubles)}{_knots(week)}</div>",
        f"<div>{_better(week.better)}{_air(week)}</div>",
        "</div>",
        _remarks(week.remarks),
    )
    return "\n".join((_head(week), *filter(None, body), "</body>\n</html>\n"))


def _head(week: Week) -> str:
    title = escape(f"{_whose(week)}{day_words(week.first_day)} to {day_words(week.ending)}")
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_NOTHING_OUTSIDE}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>"
    )


def _whose(week: Week) -> str:
    return f"{cut(week.student, LONGEST_NAME)}: " if week.student else ""


def _title(week: Week) -> str:
    days = (
        f"{week.first_day.day} {week.first_day:%B} to {week.ending.day} {week.ending:%B} "
        f"{week.ending.year}"
    )
    done = (
        f"{times_words(week.sessions, 'session')} on {week.days_practised} of 7 days, "
        f"{week.minutes:.0f} minutes, {times_words(week.rounds, 'round')}, {week.secure_rounds} of "
        f"{week.judged_rounds} judged rounds secure"
    )
    return f"<h1>{escape(_whose(week) + days)}</h1>\n<p>{done}.</p>"


def _next(week: Week) -> str:
    thing = week.next_thing
    sentence = cut(thing.sentence, LONGEST_SENTENCE)
    evidence = "".join(
        f'<p class="small">{escape(with_signs(cut(each, LONGEST_SENTENCE)))}</p>'
        for each in thing.evidence
    )
    return (
        '<section class="next"><h2>One thing for next week</h2>'
        f"<p><strong>{escape(with_signs(sentence))}</strong></p>{evidence}</section>"
    )


def _section(title: str, *content: str) -> str:
    return f"<section><h2>{escape(title)}</h2>\n" + "\n".join(content) + "\n</section>"


def _figure(drawing: str) -> str:
    return f"<figure>{drawing}</figure>"


def _small(words: str) -> str:
    return f'<p class="small">{escape(words)}</p>'


def _more(left_out: int, what: str) -> Iterator[str]:
    """A line for what didn't fit."""
    if left_out > 0:
        yield _small(f"{left_out} more {what} in the journal.")


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]], names: int = 1) -> str:
    """The first `names` columns hold words that may break; the others stay on one line."""
    head = "".join(f"<th>{escape(each)}</th>" for each in heads)
    kinds = ["name"] * names + ["together"] * (len(heads) - names)
    body = "\n".join(
        "<tr>"
        + "".join(
            f'<td class="{kind}">{escape(cell)}</td>' for kind, cell in zip(kinds, row, strict=True)
        )
        + "</tr>"
        for row in rows
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>\n{body}\n</tbody></table>"


def _minutes(week: Week) -> str:
    return _section("Minutes by day", _figure(minutes_plot(week.days, 3.46, 1.75)))


def _asked(asked: Sequence[AskedDone]) -> str:
    if not asked:
        return _section("Asked and done", _small("The routine asked for nothing this week."))
    rows = [_asked_row(each) for each in asked[:MOST_ASKED]]
    table = _table(("exercise", "days done", "minutes"), rows)
    note = _small("■ a day it was done, □ a day it was left out; minutes played, of those asked.")
    return _section("Asked and done", table, *_more(len(asked) - MOST_ASKED, "exercises"), note)


def _asked_row(asked: AskedDone) -> tuple[str, str, str]:
    boxes = "■" * asked.days_done + "□" * (asked.days_asked - asked.days_done)
    wanted = f" of {asked.minutes_asked:.0f}" if asked.minutes_asked is not None else ""
    return (
        cut(asked.title, LONGEST_NAME),
        f"{boxes} {asked.days_done} of {asked.days_asked}",
        f"{asked.played_minutes:.0f}{wanted}",
    )


def _tuning(tuning: TuningMap) -> str:
    known = [note for note in tuning.notes if note.cents.count >= ENOUGH_FOR_THE_MAP]
    rare = [note for note in tuning.notes if note.cents.count < ENOUGH_FOR_THE_MAP]
    words = ["▲ sharp or ▼ flat by 10 cents or more, ○ less; the bar is the middle half."]
    if rare:
        names = cut(" ".join(note_name(note.written) for note in rare), 80)
        words.append(f"Heard too seldom to say: {names}.")
    drawing = [_figure(tuning_plot(known, tuning.instrument, 7.08, 1.85))] if known else []
    title = f"Tuning of the {cut(tuning.instrument, LONGEST_TITLE)}, each note over the week"
    return _section(title, *drawing, _small(" ".join(words)))


def _scales(scales: Sequence[Technique]) -> str:
    if not scales:
        return ""
    heads = (
        "key and articulation",
        "rounds",
        "evenness",
        "asked",
        "change in a week",
        "held twice at",
    )
    rows = [_scale_row(each) for each in scales[:MOST_SCALES]]
    return _section(
        "Scales and arpeggios",
        _table(heads, rows),
        *_more(len(scales) - MOST_SCALES, "keys and articulations"),
        _small(
            "Evenness: how far the notes lie off an even line, median and middle half; less is "
            "more even. Held twice: the fastest tempo that was secure two times."
        ),
    )


def _scale_row(scale: Technique) -> tuple[str, ...]:
    return (
        cut(technique_words(scale), LONGEST_TITLE),
        f"{scale.rounds}",
        spread_words(scale.evenness_ms, "ms") if scale.evenness_ms else "not heard",
        f"{scale.aim_ms:g} ms" if scale.aim_ms is not None else "–",
        even_trend(scale).replace("-", "−") or "too little to say",
        tempo_words(scale).replace("-", "−"),
    )


def _evenness(week: Week, sessions: Sequence[SessionLog]) -> str:
    key = most_played_key(week)
    rounds = evenness_rounds(week, sessions, key)
    if len(rounds) < FEWEST_EVENNESS_ROUNDS:
        return ""
    title = f"Evenness round by round, {cut(key, LONGEST_TITLE) or 'no key'}"
    return _section(
        title,
        _figure(evenness_plot(rounds, key, 7.08, 1.4)),
        _small("Each mark is a round, in the order played; lower is more even."),
    )


def with_signs(words: str) -> str:
    """The words with ♯ and ♭ in the names of notes: 'C♯6' for 'C#6'."""
    return _NOTE.sub(lambda found: note_name(found.group()), words)


def _list(sentences: Iterable[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(with_signs(each))}</li>" for each in sentences) + "</ul>"


def _troubles(troubles: Sequence[Trouble]) -> str:
    if not troubles:
        return ""
    lines = [f"{_step(trouble)} {trouble_words(trouble)}" for trouble in troubles[:MOST_STEPS]]
    return _section("Steps that went wrong most often", _list(lines))


def _step(trouble: Trouble) -> str:
    if not trouble.before:
        return f"opening {trouble.written}"
    return f"{trouble.before} → {trouble.written}"


def _knots(week: Week) -> str:
    if not week.knots:
        return ""
    lines = [
        f"{cut(knot.title, LONGEST_TITLE)}: {'solved' if knot.solved else 'still open'}, "
        + times_words(knot.rounds, "round")
        + (f", held twice at {knot.secure_bpm:g}" if knot.secure_bpm else "")
        for knot in week.knots[:MOST_KNOTS]
    ]
    return _section("Knots", _list(lines), *_more(len(week.knots) - MOST_KNOTS, "knots"))


def _better(better: Sequence[str]) -> str:
    if not better:
        return _section("Better than the week before", _small("Nothing beyond what chance does."))
    return _section(
        "Better than the week before",
        _list(cut(each, LONGEST_SENTENCE) for each in better[:MOST_BETTER]),
        *_more(len(better) - MOST_BETTER, "gains"),
    )


def _air(week: Week) -> str:
    air = week.air
    found = (
        ("Between two breaths", air.breath_gap_s, "s"),
        ("Vibrato, swings a second", air.vibrato_hz, ""),
        ("Vibrato, to either side", air.vibrato_cents, "cents"),
    )
    lines = [
        f"{name}: {spread_words(figure, unit, 1)}, of {figure.count}"
        for name, figure, unit in found
        if figure
    ]
    return _section("Air and vibrato, median and middle half", _list(lines)) if lines else ""


def _remarks(remarks: Sequence[Remark]) -> str:
    shown = [remark for remark in remarks if not remark.private]
    if not shown:
        return ""
    lines = [_remark_line(remark) for remark in shown[:MOST_REMARKS]]
    return _section("Own remarks", _list(lines), *_more(len(shown) - MOST_REMARKS, "remarks"))


def _remark_line(remark: Remark) -> str:
    words = ". ".join(filter(None, (remark.felt, " ".join(remark.remark.split()))))
    return f"{remark.day:%a} {remark.day.day}: {cut(words, LONGEST_REMARK)}"
