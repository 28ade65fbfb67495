"""Sessions to read in a terminal: a line for each, or one of them on a page."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from datetime import datetime

from trainer.ear.heard import State
from trainer.errors import JournalError
from trainer.figures.note_figures import is_start_unsure
from trainer.figures.round_measures import OlderMeasures, RoundMeasures
from trainer.journal.log import RoundLog, SessionLog, judged
from trainer.journal.week_text import cut, times_words
from trainer.wording.days import day_words

WIDTH = 80
"""Columns of a plain terminal."""
_INDENT = "  "
_FORM = "write the day as 2026-11-23, with the time where there are several: '2026-11-23 17:05'"


def sessions_text(sessions: Sequence[SessionLog], width: int = WIDTH) -> str:
    """A line a session, oldest first: when, how long, rounds, how many secure, what, own words."""
    if not sessions:
        return "No session is written down for these days.\n"
    return "".join(f"{cut(_line(log).rstrip(), width)}\n" for log in sessions)


def session_named(sessions: Sequence[SessionLog], when: str) -> SessionLog:
    """The one session that began at `when`: 'last', '2026-11-23' or '2026-11-23 17:05'.

    Raises JournalError with a sentence when there is none, or more than one.
    """
    if when == "last" and sessions:
        return sessions[-1]
    if when != "last":
        _refuse_no_time(when)
    found = [log for log in sessions if _start(log).startswith(when.replace("T", " "))]
    if len(found) == 1:
        return found[0]
    if not found:
        raise JournalError(f"No session began at {when}; `trainer journal` lists those there are.")
    starts = ", ".join(f"'{_start(log)}'" for log in found)
    raise JournalError(f"{len(found)} sessions began at {when}; name one of them: {starts}.")


def _refuse_no_time(when: str) -> None:
    try:
        datetime.fromisoformat(when)
    except ValueError:
        raise JournalError(f"'{when}' is no day; {_FORM}, or 'last'.") from None


def session_text_page(log: SessionLog, width: int = WIDTH) -> str:
    """The whole session to read: what was asked, each round with its figures, own words."""
    sections = (
        _title(log),
        _asked(log),
        *(_round(round_, width) for round_ in log.rounds),
        _own_words(log, width),
    )
    return "\n\n".join("\n".join(lines) for lines in map(list, sections) if lines) + "\n"


def _start(log: SessionLog) -> str:
    """With the seconds, which tell apart sessions begun in the same minute."""
    return f"{log.started:%Y-%m-%d %H:%M:%S}"


def _line(log: SessionLog) -> str:
    parts = (
        f"{log.started:%Y-%m-%d %H:%M}  {log.lasted_s / 60:>3.0f} min",
        f"{len(log.rounds):>3} {'round ' if len(log.rounds) == 1 else 'rounds'}",
        f"{_secure(log.rounds):<15}",
        log.routine_title,
        _words_line(log),
    )
    return "  ".join(part for part in parts if part)


def _secure(rounds: Sequence[RoundLog]) -> str:
    went_well = judged(rounds)
    return f"{sum(went_well)} of {len(went_well)} clean" if went_well else "none judged"


def _words_line(log: SessionLog) -> str:
    words = [log.felt, log.remark, *(later.remark for later in log.remarks)]
    return " ".join(" / ".join(filter(None, words)).split())


def _title(log: SessionLog) -> Iterator[str]:
    whose = f"{log.student}, " if log.student else ""
    yield f"{whose}{day_words(log.started)} {log.started:%Y, %H:%M}"
    yield (
        f"{log.routine_title or 'No routine'}; {log.instrument}, A4 at {log.a4_hz:g} Hz; "
        f"{log.lasted_s / 60:.0f} minutes, {log.played_s / 60:.0f} of them playing"
    )
    if log.ended is None:
        yield "The session has no end written down: it was cut off, or still runs."


def _asked(log: SessionLog) -> Iterator[str]:
    if not log.asked:
        return
    yield "Asked"
    for asked in log.asked:
        minutes = f"{asked.minutes:>4g} min" if asked.minutes is not None else " " * 8
        rounds = sum(round_.exercise_id == asked.exercise_id for round_ in log.rounds)
        done = times_words(rounds, "round") if rounds else "not played"
        yield f"{_INDENT}{minutes}  {asked.title or asked.exercise_id}: {done}"


def _round(round_: RoundLog, width: int) -> Iterator[str]:
    key = f", {round_.key}" if round_.key else ""
    yield (
        f"{round_.started:%H:%M}  {round_.title or round_.exercise_id}, "
        f"round {round_.number}{key}, {round_.articulation}, {round_.tempo_bpm:g} bpm, "
        f"{round_.seconds:.0f} s"
    )
    for sentence in _round_sentences(round_):
        yield from _wrapped(sentence, width)


def _round_sentences(round_: RoundLog) -> Iterator[str]:
    if round_.measures is None:
        yield "The trainer did not listen."
    else:
        yield _measures_sentence(round_.measures)
    not_played = [
        f"{note.written} {note.state}"
        for note in round_.notes
        if note.state in (State.MISSED, State.EXTRA) and note.written
    ]
    if not_played:
        yield "Notes: " + ", ".join(not_played) + "."
    unsure = sum(is_start_unsure(note.start, note.start_certainty) for note in round_.notes)
    if unsure:
        yield f"Starts not judged: {unsure} of {len(round_.notes)}."
    if round_.secure:
        yield "Clean."
    if round_.advice:
        yield f"Said: {round_.advice}"
    if round_.felt:
        yield f"Felt: {round_.felt}."
    yield from (f"Sound: {warning}" for warning in round_.warnings)


def _measures_sentence(measures: RoundMeasures) -> str:
    counts = f"{measures.played} played, {measures.missed} missed, {measures.extra} extra"
    lead = [] if measures.lead_ms is None else [f"{measures.lead_ms:+.0f} ms against the beat"]
    older = [] if measures.older is None else _figures(measures.older)
    counted_then = [f"as an older trainer counted: {', '.join(older)}"] if older else []
    return "; ".join([counts, *_figures(measures), *lead, *counted_then]) + "."


def _figures(measures: RoundMeasures | OlderMeasures) -> list[str]:
    figures = (
        (measures.cents_median, "{:+.0f} cents overall"),
        (measures.evenness_ms, "evenness {:.0f} ms"),
    )
    return [words.format(value) for value, words in figures if value is not None]


def _own_words(log: SessionLog, width: int) -> Iterator[str]:
    if not (log.felt or log.remark or log.remarks):
        return
    yield "Own words"
    said = ". ".join(filter(None, (log.felt, log.remark)))
    if said:
        yield from _wrapped(said + (" (private)" if log.private else ""), width)
    for later in log.remarks:
        at = f"{later.at:%Y-%m-%d %H:%M}: " if later.at else ""
        yield from _wrapped(f"{at}{later.remark}{' (private)' if later.private else ''}", width)


def _wrapped(text: str, width: int) -> list[str]:
    indent = _INDENT * 2
    return textwrap.wrap(text, width, initial_indent=indent, subsequent_indent=indent + _INDENT)
