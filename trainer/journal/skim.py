"""Reading a session without its notes, several times as fast: nine lines in ten are notes.

Only lines exactly as the trainer writes them are passed over; whatever a hand or a fault has made
different goes through the whole reader, and so does a file in which anything is wrong.
"""

from __future__ import annotations

import re
from pathlib import Path

from trainer.ear.heard import State
from trainer.journal.log import SessionLog
from trainer.journal.read import LARGEST_FILE_BYTES, JournalProblem, read_session, read_text
from trainer.journal.session_schema import NOTE_FIELDS, TONE_FIELDS
from trainer.music.note import Start

_PITCH = r"[A-G](?:##?|bb?)?-?\d"
_NUMBER = r"-?\d{1,5}(?:\.\d{1,4})?"
_FIELD = "|".join(
    (
        rf"(?:{'|'.join((*NOTE_FIELDS, *TONE_FIELDS))}): {_NUMBER}",
        rf"state: (?:{'|'.join(State)})",
        rf"start: (?:{'|'.join(Start)})",
        rf"instead_of: {_PITCH}",
        "blip: true",
    )
)
_NOTE = rf"  - \{{(?:note: {_PITCH}|state: {State.EXTRA})(?:, (?:{_FIELD}))*\}}\n"
_NOTES = re.compile(rf"(?m)^  notes:\n(?:{_NOTE})+".encode())


def skim_session(path: Path) -> tuple[SessionLog | None, tuple[JournalProblem, ...]]:
    """As `trainer.journal.read.read_session`; the rounds' notes may be missing."""
    try:
        if not path.is_file() or path.stat().st_size > LARGEST_FILE_BYTES:
            return read_session(path)  # which says what is wrong with it
        raw = path.read_bytes()
    except OSError:
        return read_session(path)
    log, problems = read_text(path, _NOTES.sub(b"  notes:\n", raw))
    return read_text(path, raw) if problems else (log, problems)
