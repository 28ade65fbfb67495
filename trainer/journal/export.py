"""Sessions for other programs: CSV with a row a note, JSON with whole sessions.

Private words stay out of both.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from trainer.journal.encode import note_plain, session_plain
from trainer.journal.log import NoteLog, RoundLog, SessionLog
from trainer.journal.session_schema import NOTE_FIELDS, TONE_FIELDS

ROUND_COLUMNS = (
    "session", "session_started", "student", "routine", "instrument", "a4_hz",
    "exercise", "title", "kind", "number", "key", "articulation", "tempo_bpm",
    "round_started", "secure",
)  # fmt: skip
NOTE_COLUMNS = (
    "place", "note", "state", *NOTE_FIELDS, "start", *TONE_FIELDS, "blip", "instead_of",
)  # fmt: skip
"""`place` counts a round's lines from 1, extra notes too; the rest as in the session's file."""


def without_private(log: SessionLog) -> SessionLog:
    """The session as others may see it."""
    shown = tuple(later for later in log.remarks if not later.private)
    log = replace(log, remarks=shown)
    return replace(log, felt="", remark="") if log.private else log


def notes_csv(sessions: Sequence[SessionLog]) -> str:
    """A row a note, with its round's facts before it; units as in `trainer.journal.session_schema`.

    Rounds the trainer did not listen to have no notes and so no rows. Carries none of the
    student's own words. Lines end in CR LF (RFC 4180).
    """
    text = io.StringIO()
    writer = csv.DictWriter(text, (*ROUND_COLUMNS, *NOTE_COLUMNS))
    writer.writeheader()
    for log in sessions:
        for round_ in log.rounds:
            writer.writerows(_rows(log, round_))
    return text.getvalue()


def _rows(log: SessionLog, round_: RoundLog) -> Iterator[dict[str, object]]:
    facts = _round_facts(log, round_)
    for place, note in enumerate(round_.notes, start=1):
        yield facts | {"place": place} | _note_facts(note)


def _round_facts(log: SessionLog, round_: RoundLog) -> dict[str, object]:
    values = (
        log.session_id, log.started.isoformat(), log.student, log.routine_title, log.instrument,
        log.a4_hz, round_.exercise_id, round_.title, round_.kind.value, round_.number, round_.key,
        round_.articulation.value, round_.tempo_bpm, round_.started.isoformat(),
        None if round_.secure is None else _truth(round_.secure),
    )  # fmt: skip
    return dict(zip(ROUND_COLUMNS, values, strict=True))


def _note_facts(note: NoteLog) -> dict[str, object]:
    return note_plain(note) | {"state": note.state.value, "blip": _truth(note.blip)}


def _truth(value: bool) -> str:
    return "true" if value else "false"


def sessions_json(sessions: Sequence[SessionLog]) -> str:
    """A list of whole sessions under the names of `journal.session_schema`, times in ISO 8601."""
    plain = [session_plain(without_private(log)) for log in sessions]
    return json.dumps(plain, indent=1, ensure_ascii=False, default=_iso, allow_nan=False) + "\n"


def _iso(value: object) -> str:
    if isinstance(value, datetime):
        return value.isoformat()
    raise TypeError(f"{value!r} has no place in a session")
