"""A lesson's recording written into the journal, as rounds heard from a file."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from pathlib import Path

from trainer.app.begun_walk import opening_log
from trainer.app.open_session import remembered_sessions
from trainer.app.paths import Paths
from trainer.errors import TrainerError
from trainer.journal.write import JournalFile
from trainer.routine.model import Routine
from trainer.session.heard_lesson import FoundRound, heard_logs

NOON = time(12)
"""Nobody says at what hour it was recorded."""
THERE = "This recording is in the journal of {day} already; nothing was written."


def unwritten(sound_file: Path, day: date, paths: Paths) -> str:
    """The name of the session it would be, by what is in the file, whatever the file is called.

    Raises TrainerError where the same recording was written on that day before.
    """
    with sound_file.open("rb") as content:
        name = f"heard-{hashlib.file_digest(content, 'sha256').hexdigest()[:16]}"
    sessions, _ = remembered_sessions(paths, day, day)
    if any(session.session_id == name for session in sessions):
        raise TrainerError(THERE.format(day=day))
    return name


def write_lesson(
    found: Sequence[FoundRound],
    routine: Routine,
    day: date,
    sound_file: Path,
    name: str,
    paths: Paths,
) -> tuple[int, Path]:
    """Write what is certain as a session of that day: how many rounds, and the session's file.

    name: the session's, from `unwritten`.

    Raises JournalError where the journal can't be written.
    """
    began = datetime.combine(day, NOON).astimezone()
    logs = tuple(heard_logs(found, began, sound_file.name))
    log = replace(opening_log(routine, (), began), session_id=name)
    journal = JournalFile.begin(paths.journal, log, paths.spare_journal)
    for round_log in logs:
        journal.add_round(round_log)
    lasted_s = max((one.ends_s for one in found), default=0.0)
    journal.finish(began + timedelta(seconds=lasted_s), lasted_s)
    return len(logs), journal.path
