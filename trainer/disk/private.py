"""What is written for the student alone: others on the machine may neither read nor list it."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import BinaryIO

FOLDER_MODE = 0o700
"""The owner may do everything, others nothing (POSIX modes)."""
FILE_MODE = 0o600
"""The same for a file."""
SHARED_FILE_MODE = 0o660
"""In a folder that was opened on purpose to a group that may write in it."""


def private_folder(folder: Path) -> None:
    """Make the folder, and those above it that are missing, for the student alone.

    One that is there keeps its permissions. Raises OSError where it can't be made.
    """
    try:
        folder.mkdir(mode=FOLDER_MODE, exist_ok=True)
    except FileNotFoundError:
        private_folder(folder.parent)
        folder.mkdir(mode=FOLDER_MODE, exist_ok=True)


def private_mode(folder: Path) -> int:
    """The permissions of a new file in the folder. Raises OSError where that can't be looked at."""
    return SHARED_FILE_MODE if folder.stat().st_mode & stat.S_IWGRP else FILE_MODE


def private_new(path: Path) -> BinaryIO:
    """A new file to write. Raises OSError, FileExistsError where there is one of this name."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    return os.fdopen(os.open(path, flags, private_mode(path.parent)), "wb")


def private_appending(path: Path) -> BinaryIO:
    """The file, with its folder, to write on at its end; OSError where it can't be written.

    A pipe without a reader is refused, not waited for.
    """
    private_folder(path.parent)
    flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | getattr(os, "O_NONBLOCK", 0)
    return os.fdopen(os.open(path, flags, private_mode(path.parent)), "ab")


def can_be_written(folder: Path) -> bool:
    """Whether a file could be laid into the folder, made first if need be."""
    for place in (folder, *folder.parents):
        try:
            place.lstat()
        except (FileNotFoundError, NotADirectoryError):
            continue
        except OSError:  # such as a name too long for the system
            return False
        return place.is_dir() and os.access(place, os.W_OK | os.X_OK)
    return False
