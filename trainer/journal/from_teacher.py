"""Words and a routine from the teacher, laid into the student's journal folder.

    from teacher/2026-11-25_18-05-12.yaml     a message a file
    from teacher/routines/morning.yaml        routines that came with messages

A message, form 1 (UTF-8; a reader leaves out what it doesn't know):

    version: 1                                always
    written: 2026-11-25 18:05:12+01:00        always
    note: |                                   the teacher's words; may be missing
      Begin with the ladder.
    routine: morning.yaml                     a file in 'routines' beside it; may be missing

Nothing there is ever changed or overwritten; the folder travels with the journal's own files. Since
it comes from another's computer, no link in it is followed, in reading or in writing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import yaml

from trainer.disk.regular_file import regular_bytes
from trainer.disk.strict_yaml import StrictYamlError, yaml_content
from trainer.disk.whole_file import holds, write_new
from trainer.errors import JournalError
from trainer.journal.field_kinds import Time
from trainer.journal.read import SUFFIXES, JournalProblem

FOLDER = "from teacher"
ROUTINES = "routines"
FORM = 1
"""Of a teacher's note."""
LARGEST_MESSAGE_BYTES = 200_000
"""A routine of the largest kind, and a page of words."""
HEADING = "# From your teacher.\n"


@dataclass(frozen=True)
class TeacherNote:
    """One message from the teacher."""

    written: datetime
    """With its offset from UTC."""
    words: str = ""
    routine_file: Path | None = None
    """A routine that came with it."""


def notes_from_teacher(
    folder: Path,
) -> tuple[tuple[TeacherNote, ...], tuple[JournalProblem, ...]]:
    """The messages in a journal folder, oldest first, and a problem for each that can't be read.

    Never raises.
    """
    try:
        paths = sorted(path for path in (folder / FOLDER).iterdir() if _may_be_message(path))
    except OSError:
        return (), ()
    notes, problems = [], []
    for path in paths:
        try:
            note, repeated = _note(path)
        except StrictYamlError as fault:
            problems.append(JournalProblem(path, fault.line, _fault_sentence(fault)))
        except (OSError, ValueError) as fault:
            problems.append(JournalProblem(path, None, _fault_sentence(fault)))
        else:
            notes.append(note)
            problems += repeated
    return tuple(sorted(notes, key=lambda note: note.written.astimezone(UTC))), tuple(problems)


def latest_note(notes: tuple[TeacherNote, ...]) -> TeacherNote | None:
    """The newest message with words in it: it stands until another comes."""
    return next((note for note in reversed(notes) if note.words), None)


def latest_routine(notes: tuple[TeacherNote, ...]) -> Path | None:
    """The newest routine that came from the teacher and is there."""
    files = (note.routine_file for note in reversed(notes) if note.routine_file)
    return next((file for file in files if file.is_file() and not file.is_symlink()), None)


def _may_be_message(path: Path) -> bool:
    return path.suffix.lower() in SUFFIXES and not path.name.startswith(".")


def _fault_sentence(fault: Exception) -> str:
    if isinstance(fault, OSError):
        return f"this message can't be read ({fault.strerror}); check who may open it"
    first_line = str(fault).rstrip(".").partition("\n")[0] or type(fault).__name__
    return f"this is no message from a teacher ({first_line}); ask for it again"


def _note(path: Path) -> tuple[TeacherNote, list[JournalProblem]]:
    """The message, and a problem for each line that stands twice.

    Raises StrictYamlError, ValueError or OSError where it is no message.
    """
    if path.is_symlink():
        raise ValueError("it is a link to another file")
    content = yaml_content(regular_bytes(path, LARGEST_MESSAGE_BYTES).decode("utf-8-sig"))
    plain = content.plain
    if not isinstance(plain, dict) or "version" not in plain:
        raise ValueError("there is no 'version' line")
    version = plain["version"]
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise ValueError(f"'version' should be {FORM}")
    if version > FORM:
        raise ValueError(f"a newer trainer wrote it, in form {version}; update the trainer")
    note = TeacherNote(
        written=Time().read("written", plain.get("written")),
        words=_words(plain.get("note")),
        routine_file=_routine(path.parent, plain.get("routine")),
    )
    return note, [JournalProblem(path, one.line, one.sentence) for one in content.repeated]


def _words(value: object) -> str:
    if isinstance(value, (list, dict)):
        raise ValueError("'note' should be words")
    return "" if value is None else str(value).strip()


def _routine(folder: Path, value: object) -> Path | None:
    """A file of the routines beside the message; a name can't lead out of there."""
    if value is None:
        return None
    if not isinstance(value, str) or Path(value).name != value or value.startswith("."):
        raise ValueError("'routine' should be the name of a file in 'routines'")
    return folder / ROUTINES / value


def send_note(folder: Path, words: str, at: datetime, routine: Path | None = None) -> Path:
    """Lay a message into a journal folder, on disk when this returns; its file.

    `at` is now, with its offset from UTC; `routine` is a routine file to send with it. Raises
    JournalError when there is nothing to send, or it can't be read or written.
    """
    words = "\n".join(words.strip().splitlines())  # YAML folds the rarer kinds of line end
    if not words and routine is None:
        raise JournalError("There is nothing in this note; write some words or add a routine.")
    for inbox in (folder / FOLDER, folder / FOLDER / ROUTINES):
        if inbox.is_symlink():
            raise JournalError(f"{inbox} is a link to another folder; remove it. Nothing was sent.")
    moment = at.replace(microsecond=0)
    plain: dict[str, object] = {"version": FORM, "written": moment.isoformat(" ")}
    if words:
        plain["note"] = words
    if routine is not None:
        plain["routine"] = _lay_routine(folder, routine).name
    text = HEADING + yaml.safe_dump(plain, sort_keys=False, allow_unicode=True, width=90)
    return _lay(folder / FOLDER, f"{moment:%Y-%m-%d_%H-%M-%S}", text.encode())


def _lay_routine(folder: Path, routine: Path) -> Path:
    """The routine in the student's folder; one that is there already is not laid again."""
    try:
        content = regular_bytes(routine, LARGEST_MESSAGE_BYTES)
    except OSError as fault:
        raise JournalError(f"{routine} can't be read ({fault.strerror}).") from fault
    home = folder / FOLDER / ROUTINES
    for known in sorted(home.glob("*.yaml")):
        if _is_the_same(known, routine.stem) and not known.is_symlink() and holds(known, content):
            return known
    return _lay(home, routine.stem, content)


def _is_the_same(known: Path, stem: str) -> bool:
    return re.fullmatch(rf"{re.escape(stem)}(-\d+)?", known.stem) is not None


def _lay(home: Path, stem: str, content: bytes) -> Path:
    """A new file under the first free name."""
    try:
        return write_new(home, stem, content)
    except OSError as fault:
        raise JournalError(
            f"{home} can't be written ({fault.strerror}); make room or see to who may write there. "
            "Nothing was sent."
        ) from fault
