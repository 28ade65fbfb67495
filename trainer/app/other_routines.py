"""The routines to choose from: the teacher's, the student's own, those that came along."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from trainer.app.paths import Paths
from trainer.app.todays_routine import SHIPPED_ROUTINES
from trainer.disk.regular_file import regular_bytes
from trainer.journal.from_teacher import notes_from_teacher
from trainer.routine.document import LARGEST_FILE_BYTES
from trainer.routine.load import load_routine
from trainer.routine.model import Routine

SENT, OWN, SHIPPED = "From your teacher", "Your own", "With the trainer"
_TITLE = re.compile(r"^title:(.*)$", re.MULTILINE)
_COMMENT = re.compile(r"^# *(.*)$")


@dataclass(frozen=True)
class RoutineOffered:
    """A routine file to choose."""

    file: Path
    title: str
    """As it says itself, else its file's name."""
    said: str
    """What stands at the file's top about it; may be empty."""
    whose: str
    """SENT, OWN or SHIPPED."""


def routines_offered(paths: Paths) -> tuple[RoutineOffered, ...]:
    """Every routine file, the teacher's newest first; what can't be read goes by its file's name.

    The files are not understood here, only looked at: that is a hundred times as quick.
    """
    notes, _ = notes_from_teacher(paths.journal)
    sent = dict.fromkeys(note.routine_file for note in reversed(notes) if note.routine_file)
    return tuple(
        _offered(file, whose)
        for whose, files in (
            (SENT, sent),
            (OWN, _routine_files(paths.routines)),
            (SHIPPED, _routine_files(SHIPPED_ROUTINES)),
        )
        for file in files
    )


def chosen_routine(file: Path) -> Routine | str:
    """The routine in a file, or what is wrong with it and how to mend it, a sentence."""
    routine, problems = load_routine(file)
    return problems[0].sentence() if routine is None else routine


def _routine_files(folder: Path) -> list[Path]:
    try:
        return sorted(folder.glob("*.yaml"))
    except OSError:
        return []


def _offered(file: Path, whose: str) -> RoutineOffered:
    try:
        text = regular_bytes(file, LARGEST_FILE_BYTES).decode("utf-8-sig", "replace")
    except OSError:
        text = ""
    title = _title(text) or file.stem.replace("_", " ")
    return RoutineOffered(file, title, _heading(text), whose)


def _title(text: str) -> str:
    """What stands behind 'title:', without its quotation marks or a comment; may be empty."""
    line = _TITLE.search(text)
    said = line[1].strip() if line else ""
    within, closed, _ = said[1:].partition(said[:1]) if said[:1] in ("'", '"') else ("", "", "")
    return within if closed else said.partition(" #")[0].rstrip()


def _heading(text: str) -> str:
    """The comment on the first lines, up to an empty one."""
    said = []
    for line in text.splitlines():
        comment = _COMMENT.match(line)
        if comment is None or not comment[1]:
            break
        said.append(comment[1])
    return " ".join(said)
