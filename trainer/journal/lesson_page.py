"""The page to hand over at the lesson: one HTML file on one or two sheets of A4.

Nothing in it comes from elsewhere and nothing in it runs; private remarks stay out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.journal.held_notes import AirAndVibrato
from trainer.journal.log import SessionLog
from trainer.journal.next_week import next_thing
from trainer.journal.page_plots import kinds_plot, minutes_plot, tuning_plot
from trainer.journal.scales_plot import (
    evenness_plot,
    evenness_rounds,
    scales_height_in,
    scales_plot,
    steadiest_key,
)
from trainer.journal.technique import Technique
from trainer.journal.time_spent import AskedDone
from trainer.journal.tuning_map import TuningMap
from trainer.journal.week_summary import Remark, Week
from trainer.journal.week_text import (
    ENOUGH_FOR_THE_MAP,
    air_lines,
    asked_titles,
    cut,
    direction_words,
    last_week,
    most_apart,
    spot_lines,
)
from trainer.paper.page_words import escape
from trainer.paper.parts import (
    HEADING_MM,
    NARROW_IN,
    NARROW_LETTERS,
    RULE_MM,
    WIDE_IN,
    PagePart,
    bullets,
    figure,
    head,
    left_on_two_sheets_mm,
    left_out,
    pair,
    rules,
    section,
    small,
    table,
    with_signs,
)
from trainer.paper.plot import note_name
from trainer.paper.style import STYLE
from trainer.wording.days import date_words, day_words, short_day

# The journal holds the rest.
MOST_ASKED = 8
MOST_KINDS = 8
MOST_SPOTS = 5
"""Lines in this section; the rest are counted."""
MOST_BETTER = 3
"""Lines in this section; the rest are counted."""
MOST_REMARKS = 4
"""Lines in this section; the rest are counted."""
LONGEST_NAME = 24
"""Characters of the student's name in the heading."""
LONGEST_TITLE = 40
"""Characters of a title that fit beside its figures."""
LONGEST_SENTENCE = 120
"""Characters: two lines."""
LONGEST_REMARK = 180
"""Characters: three lines."""
FEWEST_EVENNESS_DAYS = 3
"""With fewer there is no line to draw."""
FEWEST_RULES, MOST_RULES = 2, 12
"""Lines to write on, as many as the paper leaves."""


@dataclass(frozen=True)
class _Plan:
    """How much of what can be long or left out."""

    maps: int
    scales: int
    evenness: bool


PLANS = (
    _Plan(maps=2, scales=20, evenness=True),
    _Plan(maps=2, scales=20, evenness=False),
    _Plan(maps=2, scales=12, evenness=False),
    _Plan(maps=2, scales=8, evenness=False),
    _Plan(maps=1, scales=20, evenness=False),
    _Plan(maps=1, scales=12, evenness=False),
)
"""From the fullest to the one that always fits on two sheets."""


def lesson_page(week: Week, sessions: Sequence[SessionLog], lesson: str = "") -> str:
    """The week as one self-contained HTML document; `sessions` are those the week was made from,
    `lesson` when the next one is, and what it is to hear.

    Raises JournalError when the plotting library isn't installed.
    """
    pieces = _that_fit([_pieces(week, sessions, lesson, plan) for plan in PLANS])
    title = f"{_whose(week)}{day_words(week.first_day)} to {day_words(week.ending)}"
    body = (piece.html() for piece in (*pieces, *_lesson(pieces)))
    return "\n".join((head(title, STYLE), *body, "</body>\n</html>\n"))


def _that_fit(ways: Sequence[list[PagePart]]) -> list[PagePart]:
    return next((pieces for pieces in ways if left_on_two_sheets_mm(pieces) is not None), ways[-1])


def _pieces(week: Week, sessions: Sequence[SessionLog], lesson: str, plan: _Plan) -> list[PagePart]:
    pieces = (
        _title(week),
        small(cut(with_signs(lesson), LONGEST_SENTENCE)) if lesson else None,
        _next(week),
        pair([_minutes(week)], _kinds(week)),
        _asked(week.asked),
        *(_tuning(tuning) for tuning in _most_heard(week.tuning)[: plan.maps]),
        *left_out(len(week.tuning) - plan.maps, "instruments"),
        pair([*_spots(week), *_to_ask(week)], [_better(week.better), *_air(week.air)]),
        _scales(week.techniques, plan.scales),
        _evenness(week, sessions) if plan.evenness else None,
        _remarks(week.remarks),
    )  # fmt: skip
    return [piece for piece in pieces if piece is not None]


def _whose(week: Week) -> str:
    return f"{cut(week.student, LONGEST_NAME)}: " if week.student else ""


def _title(week: Week) -> PagePart:
    days = f"{date_words(week.first_day)} to {date_words(week.ending)} {week.ending.year}"
    clean = f"{week.secure_rounds} of {week.judged_rounds}" if week.judged_rounds else "no"
    minutes, minutes_before = round(week.minutes), round(week.minutes_before)
    clean_before = f"{week.secure_before} of {week.judged_before}" if week.judged_before else ""
    counts = (
        (f"{week.days_practised} of 7", f"days{last_week(week.days_practised, week.days_before)}"),
        (f"{week.sessions}", "session" if week.sessions == 1 else "sessions"),
        (f"{minutes}", f"minute{'s' * (minutes != 1)}{last_week(minutes, minutes_before)}"),
        (f"{week.rounds}", "round" if week.rounds == 1 else "rounds"),
        (clean, f"rounds clean{last_week(clean, clean_before)}"),
    )
    facts = "".join(
        f"<li><strong>{escape(count)}</strong> {escape(what)}</li>" for count, what in counts
    )
    return PagePart(
        20.0, lambda: f'<h1>{escape(_whose(week) + days)}</h1>\n<ul class="counts">{facts}</ul>'
    )


def _next(week: Week) -> PagePart:
    thing = next_thing(week)
    sentence = escape(with_signs(cut(thing.sentence, LONGEST_SENTENCE)))
    said = PagePart(12.0, lambda: f"<p><strong>{sentence}</strong></p>")
    evidence = (small(cut(each, LONGEST_SENTENCE)) for each in thing.evidence)
    return section("One thing for next week", said, *evidence, name="next")


def _minutes(week: Week) -> PagePart:
    return section("Minutes by day", figure(1.75, lambda: minutes_plot(week.days, NARROW_IN, 1.75)))


def _kinds(week: Week) -> list[PagePart]:
    if not week.kinds:
        return []
    shown = week.kinds[:MOST_KINDS]
    drawing = figure(1.75, lambda: kinds_plot(shown, NARROW_IN, 1.75))
    return [section("Playing by kind", drawing, *left_out(len(week.kinds) - MOST_KINDS, "kinds"))]


def _asked(asked: Sequence[AskedDone]) -> PagePart:
    if not asked:
        return section("Asked and done", small("The routine asked for nothing this week."))
    titles = asked_titles(asked)
    rows = [_asked_row(*each) for each in zip(asked[:MOST_ASKED], titles, strict=False)]
    heads = ("exercise", "days done", "rounds", "minutes played")
    note = small("■ a day it was done, □ a day it was left out.")
    more = left_out(len(asked) - MOST_ASKED, "exercises")
    return section("Asked and done", table(heads, rows), *more, note)


def _asked_row(asked: AskedDone, title: str) -> tuple[str, ...]:
    boxes = "■" * asked.days_done + "□" * (asked.days_asked - asked.days_done)
    return (
        cut(title, LONGEST_TITLE),
        f"{boxes} {asked.days_done} of {asked.days_asked}",
        f"{asked.rounds}",
        f"{asked.played_minutes:.0f}",
    )


def _most_heard(maps: Sequence[TuningMap]) -> list[TuningMap]:
    """The instrument played most first."""
    return sorted(maps, key=lambda each: -sum(note.cents.count for note in each.notes))


def _tuning(tuning: TuningMap) -> PagePart:
    known = [note for note in tuning.notes if note.cents.count >= ENOUGH_FOR_THE_MAP]
    rare = [note for note in tuning.notes if note.cents.count < ENOUGH_FOR_THE_MAP]
    words = ["▲ sharp or ▼ flat by 10 cents or more, ○ less; the bar holds half of the times."]
    words += [f"{direction_words(note)}." for note in most_apart(tuning)]
    if rare:
        names = cut(" ".join(note_name(note.written) for note in rare), 80)
        words.append(f"Heard too seldom to say: {names}.")
    drawing = figure(1.95, lambda: tuning_plot(known, tuning.instrument, WIDE_IN, 1.95))
    title = f"Tuning of the {cut(tuning.instrument, LONGEST_TITLE)}, each note over the week"
    return section(title, *([drawing] if known else []), small(" ".join(words)))


def _scales(scales: Sequence[Technique], most: int) -> PagePart | None:
    if not scales:
        return None
    most_played = sorted(scales, key=lambda scale: -scale.rounds)[:most]
    shown = [scale for scale in scales if scale in most_played]
    return section(
        "Scales and arpeggios",
        figure(scales_height_in(shown), lambda: scales_plot(shown)),
        *left_out(len(scales) - len(shown), "keys and articulations"),
        small(
            "Evenness: how far the notes lie off an even line; less is more even. ● beyond what "
            "was asked (the stroke), ○ not; the bar holds half the rounds, × the week before; an "
            "arrow only where the change is more than chance does. ■ the fastest tempo that held "
            "two times, □ the week before."
        ),
    )


def _evenness(week: Week, sessions: Sequence[SessionLog]) -> PagePart | None:
    key = steadiest_key(week, sessions)
    rounds = evenness_rounds(week, sessions, key)
    if len({day for day, _ in rounds}) < FEWEST_EVENNESS_DAYS:
        return None
    return section(
        f"Evenness round by round, {cut(key, LONGEST_TITLE) or 'no key'}",
        figure(1.4, lambda: evenness_plot(rounds, key, WIDE_IN, 1.4)),
        small("Each mark is a round, in the order played; lower is more even."),
    )


def _spots(week: Week) -> list[PagePart]:
    lines = spot_lines(week)
    more = left_out(len(lines) - MOST_SPOTS, "trouble spots")
    if not lines:
        return []
    return [section("Trouble spots", bullets(lines[:MOST_SPOTS], NARROW_LETTERS), *more)]


def _to_ask(week: Week) -> list[PagePart]:
    lines = [cut(each, LONGEST_SENTENCE) for each in week.to_ask]
    return [section("To ask at the lesson", bullets(lines, NARROW_LETTERS))] if lines else []


def _better(better: Sequence[str]) -> PagePart:
    title = "Better than last week"
    if not better:
        return section(title, small("Nothing for sure yet."))
    lines = [cut(each, LONGEST_SENTENCE) for each in better[:MOST_BETTER]]
    more = left_out(len(better) - MOST_BETTER, "gains")
    return section(title, bullets(lines, NARROW_LETTERS), *more)


def _air(air: AirAndVibrato) -> list[PagePart]:
    lines = list(air_lines(air))
    return [section("Air and vibrato", bullets(lines, NARROW_LETTERS))] if lines else []


def _remarks(remarks: Sequence[Remark]) -> PagePart | None:
    shown = [remark for remark in remarks if not remark.private]
    if not shown:
        return None
    lines = bullets([_remark_line(remark) for remark in shown[:MOST_REMARKS]])
    return section("Your own words", lines, *left_out(len(shown) - MOST_REMARKS, "remarks"))


def _remark_line(remark: Remark) -> str:
    words = ". ".join(filter(None, (remark.felt, " ".join(remark.remark.split()))))
    return f"{short_day(remark.day)}: {cut(words, LONGEST_REMARK)}"


def _lesson(pieces: Sequence[PagePart]) -> list[PagePart]:
    """Ruled lines for a pencil, as many as the last sheet has room for."""
    left_mm = left_on_two_sheets_mm(pieces) or 0.0
    count = min(MOST_RULES, int((left_mm - HEADING_MM) / RULE_MM))
    return [section("At the lesson", rules(count), name="pencil")] if count >= FEWEST_RULES else []
