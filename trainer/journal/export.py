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

from trainer.disk.outside_text import cell
from trainer.journal.encode import note_plain, session_plain
from trainer.journal.field_kinds import Kept, KeptFields, flat
from trainer.journal.log import RoundLog, SessionLog
from trainer.journal.session_schema import NOTE, ROUND, SESSION


def _fields(fields: KeptFields, columns: Sequence[str], prefix: str) -> KeptFields:
    """The field of each column; where two would be called alike, with a prefix."""
    by_key = {field.key: field for field in fields}
    return tuple(by_key[column.removeprefix(prefix)] for column in columns)


SESSION_COLUMNS = ("session", "session_started", "student", "routine", "instrument", "a4_hz")
ROUND_COLUMNS = (
    "exercise", "title", "kind", "number", "key", "articulation", "tempo_bpm", "round_started",
    "secure", "heard_from",
)  # fmt: skip
SESSION_FIELDS = _fields(SESSION, SESSION_COLUMNS, "session_")
ROUND_FIELDS = _fields(ROUND, ROUND_COLUMNS, "round_")
NOTE_COLUMNS = ("place", *(field.key for field in flat(NOTE)))
"""`place` counts a round's lines from 1, extra notes too; the rest as in the session's file."""


def without_private(log: SessionLog) -> SessionLog:
    """The session as others may see it."""
    shown = tuple(later for later in log.remarks if not later.private)
    log = replace(log, remarks=shown)
    return replace(log, felt="", remark="") if log.private else log


def notes_csv(sessions: Sequence[SessionLog]) -> str:
    """A row a note, with its round's facts before it; units as in `trainer.journal.session_schema`.

    Rounds the trainer did not listen to have no notes and so no rows. Carries none of the
    student's own words. Lines end in CR LF (RFC 4180); words that a
    spreadsheet would run begin with an apostrophe.
    """
    text = io.StringIO()
    writer = csv.DictWriter(text, (*SESSION_COLUMNS, *ROUND_COLUMNS, *NOTE_COLUMNS))
    writer.writeheader()
    for log in sessions:
        for round_ in log.rounds:
            for row in note_rows(log, round_):
                writer.writerow({name: _cell(value) for name, value in row.items()})
    return text.getvalue()


def note_rows(log: SessionLog, round_: RoundLog) -> Iterator[dict[str, object]]:
    """A row for each note of a round, with the round's and the session's facts, by column."""
    facts = _facts(log, SESSION_FIELDS, SESSION_COLUMNS) | _facts(
        round_, ROUND_FIELDS, ROUND_COLUMNS
    )
    for place, note in enumerate(round_.notes, start=1):
        said = {"state": note.state.value, "blip": note.blip}
        yield facts | {"place": place} | note_plain(note) | said


def _facts(log: object, fields: Sequence[Kept], columns: Sequence[str]) -> dict[str, object]:
    values = (getattr(log, field.attribute) for field in fields)
    return dict(zip(columns, values, strict=True))


def _cell(value: object) -> object:
    match value:
        case bool():
            return "true" if value else "false"
        case datetime():
            return value.isoformat()
        case str():
            return cell(value)
        case _:
            return value


def sessions_json(sessions: Sequence[SessionLog]) -> str:
    """A list of whole sessions under the names of `journal.session_schema`, times in ISO 8601."""
    plain = [session_plain(without_private(log)) for log in sessions]
    return json.dumps(plain, indent=1, ensure_ascii=False, default=_iso, allow_nan=False) + "\n"


def _iso(value: object) -> str:
    if isinstance(value, datetime):
        return value.isoformat()
    raise TypeError(f"{value!r} has no place in a session")
