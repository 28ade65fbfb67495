"""Everything kept of a student's practice: the journal folder and the spare one together."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date
from pathlib import Path

from trainer.journal.log import SessionLog
from trainer.journal.read import JournalProblem, each_once, read_files


def kept_files(
    folders: Sequence[Path], first: date = date.min, last: date = date.max
) -> tuple[tuple[tuple[Path, SessionLog], ...], tuple[JournalProblem, ...]]:
    """The sessions of these days (both included) with their files, oldest first, and every problem.

    `folders`: the journal and its spare. A session that stands in both counts once. Never raises,
    never changes a file.
    """
    found: list[tuple[Path, SessionLog]] = []
    problems: list[JournalProblem] = []
    for folder in folders:
        files, faults = read_files(folder, first, last)
        found += files
        problems += faults
    counted, copies = each_once(found)
    ordered = sorted(counted, key=lambda file: file[1].started.astimezone(UTC))
    return tuple(ordered), (*problems, *copies)


def kept_sessions(
    folders: Sequence[Path], first: date = date.min, last: date = date.max
) -> tuple[tuple[SessionLog, ...], tuple[JournalProblem, ...]]:
    """As `kept_files`, without the files."""
    files, problems = kept_files(folders, first, last)
    return tuple(log for _, log in files), problems
