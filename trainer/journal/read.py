"""Reading sessions back. A broken file is told in a sentence and hides no other."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from trainer.journal.log import SessionLog


@dataclass(frozen=True)
class JournalProblem:
    """One thing wrong with a session's file."""

    path: Path
    line: int | None
    """Line in the file, from 1; None when it concerns the whole file."""
    sentence: str
    """What is wrong and how to mend it."""

    def __str__(self) -> str:
        place = f"{self.path}:{self.line}" if self.line else f"{self.path}"
        return f"{place}: {self.sentence}"


def read_session(path: Path) -> tuple[SessionLog | None, tuple[JournalProblem, ...]]:
    """One session and what is wrong with its file; broken rounds are left out, each reported."""
    raise NotImplementedError


def read_sessions(
    folder: Path, from_day: date | None = None, to_day: date | None = None
) -> tuple[tuple[SessionLog, ...], tuple[JournalProblem, ...]]:
    """The sessions of these days (both included), oldest first, and every problem met.

    A folder that isn't there holds no sessions. Never raises, never changes a file.
    """
    raise NotImplementedError
