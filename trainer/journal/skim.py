"""Reading a session without its notes, several times as fast: nine lines in ten are notes.

Only lines exactly as the trainer writes them are passed over; whatever a hand or a fault has made
different goes through the whole reader, and so does a file in which anything is wrong.
"""

from __future__ import annotations

import re
from pathlib import Path

from trainer.ear.heard import State
from trainer.journal.field_kinds import PITCH_PATTERN, flat
from trainer.journal.log import SCHEMA_VERSION, SessionLog
from trainer.journal.read import JournalProblem, read_session, read_text, session_bytes
from trainer.journal.session_schema import NOTE

_FIELD = "|".join(f"{field.key}: {field.kind.pattern()}" for field in flat(NOTE)[1:])
_NOTE = rf"  - \{{(?:note: {PITCH_PATTERN}|state: {State.EXTRA})(?:, (?:{_FIELD}))*\}}\n"
_NOTES = re.compile(rf"(?m)^  notes:\n(?:{_NOTE})+".encode())
_PRESENT = re.compile(rf"(?m)^version: {SCHEMA_VERSION}\r?$".encode())
"""An older file's figures may have to be counted anew from its notes."""


def skim_session(path: Path) -> tuple[SessionLog | None, tuple[JournalProblem, ...]]:
    """As `trainer.journal.read.read_session`; the rounds' notes may be missing."""
    try:
        raw = session_bytes(path)
    except OSError:
        return read_session(path)  # which says what is wrong with it
    if not _PRESENT.search(raw):
        return read_text(path, raw)
    log, problems = read_text(path, _NOTES.sub(b"  notes:\n", raw))
    return read_text(path, raw) if problems else (log, problems)
