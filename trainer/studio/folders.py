"""The students' folders: every folder inside the studio's is a student's journal.

They come by syncing, by mail or copied by hand, so what lies about beside them is told in a
sentence and never taken for practice. Nothing here is written to.
"""

from __future__ import annotations

import os
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from trainer.errors import StudioError
from trainer.journal.from_teacher import FOLDER as FROM_TEACHER
from trainer.journal.read import SUFFIXES

JOURNAL = "journal"
ROUTINES = "routines"
SPARE_JOURNAL = "spare journal"
_LEFT_BY_SYSTEMS = {"desktop.ini", "thumbs.db", "__macosx", "$recycle.bin", "@eadir", "lost+found"}
_PACKED = {".zip", ".7z", ".rar", ".tar", ".gz", ".tgz"}
_MOST_TOLD = 5
"""Names in one sentence."""


@dataclass(frozen=True)
class StudentFolder:
    """One student's folder."""

    name: str
    """The folder's own name: what the teacher calls the student."""
    folder: Path
    journals: tuple[Path, ...]
    """The folders that hold session files: the folder itself, or the journal inside it."""

    @property
    def inbox(self) -> Path:
        """The journal folder that messages to the student go to."""
        return self.journals[0]


def student_folders(studio: Path) -> tuple[tuple[StudentFolder, ...], tuple[str, ...]]:
    """The students in alphabetical order, and a sentence for whatever else lies there.

    Raises StudioError when the studio is no folder or can't be read.
    """
    try:
        with os.scandir(studio) as found:
            entries = sorted((entry.name, entry.is_dir()) for entry in found)
    except NotADirectoryError:
        raise StudioError(
            f"{studio} is a file. Name the folder that holds a folder for each student."
        ) from None
    except FileNotFoundError:
        raise StudioError(
            f"There is no folder {studio}. Name the folder that holds a folder for each student."
        ) from None
    except OSError as fault:
        raise StudioError(
            f"{studio} can't be read ({fault.strerror}); see who may open it."
        ) from fault
    shown = [(name, is_folder) for name, is_folder in entries if not _is_left_by_system(name)]
    students = [_student(studio / name) for name, is_folder in shown if is_folder]
    files = [name for name, is_folder in shown if not is_folder]
    return tuple(sorted(students, key=lambda each: alphabetical(each.name))), _told(files)


def alphabetical(name: str) -> tuple[str, str]:
    """A key to sort names by, accents and capitals aside."""
    letters = unicodedata.normalize("NFKD", name)
    return "".join(each for each in letters if not unicodedata.combining(each)).casefold(), name


def named(students: tuple[StudentFolder, ...], name: str) -> StudentFolder:
    """The one student whose folder has this name, or alone begins with it.

    Raises StudioError when there is none, or more than one.
    """
    wanted = _plain(name)
    exact = [student for student in students if _plain(student.name) == wanted]
    found = exact or [student for student in students if _plain(student.name).startswith(wanted)]
    if len(found) == 1:
        return found[0]
    if not found:
        raise StudioError(f"There is no student '{name}' here; `trainer studio DIR` names them.")
    names = ", ".join(f"'{student.name}'" for student in found[:_MOST_TOLD])
    raise StudioError(f"'{name}' may be {names}; write more of the name.")


def _plain(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


def _is_left_by_system(name: str) -> bool:
    return name.startswith((".", "~")) or name.casefold() in _LEFT_BY_SYSTEMS


def _student(folder: Path) -> StudentFolder:
    inner = [folder / name for name in (JOURNAL, SPARE_JOURNAL) if (folder / name).is_dir()]
    if inner and inner[0].name == JOURNAL:
        return StudentFolder(folder.name, folder, tuple(inner))
    return StudentFolder(folder.name, folder, (_unpacked_inside(folder) or folder,))


def _unpacked_inside(folder: Path) -> Path | None:
    """The one folder with sessions in a folder without: what was packed as a folder comes so."""
    if _holds_sessions(folder):
        return None
    inside = [
        each
        for each in folder.iterdir()
        if each.name not in (FROM_TEACHER, ROUTINES) and each.is_dir() and _holds_sessions(each)
    ]
    return inside[0] if len(inside) == 1 else None


def _holds_sessions(folder: Path) -> bool:
    """Whether there is a file that may be one; what can't be opened is left to the reading."""
    try:
        with os.scandir(folder) as entries:
            return any(Path(entry.name).suffix.lower() in SUFFIXES for entry in entries)
    except OSError:
        return True


def _told(files: list[str]) -> tuple[str, ...]:
    sessions = [name for name in files if Path(name).suffix.lower() in SUFFIXES]
    others = [name for name in files if name not in sessions]
    sentences = [_sentence(name) for name in others[:_MOST_TOLD]]
    if sessions:
        sentences.append(_loose_sessions(sessions))
    if len(others) > _MOST_TOLD:
        sentences.append(f"{len(others) - _MOST_TOLD} more files lie beside the students' folders.")
    return tuple(sentences)


def _loose_sessions(names: list[str]) -> str:
    if len(names) == 1:
        return f"{names[0]} lies outside every student's folder and was not counted; move it."
    return (
        f"{len(names)} files of sessions lie outside every student's folder and were not counted. "
        "If this is one student's journal, name the folder above it."
    )


def _sentence(name: str) -> str:
    suffix = Path(name).suffix.lower()
    if suffix in _PACKED:
        return f"{name} is packed; unpack it into a folder of the student's name."
    return f"{name} is no student's folder and was left alone."
