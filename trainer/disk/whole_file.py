"""Small files, whole or not there, never half: all that the trainer keeps is written here.

No file is changed in place. The whole text goes to a hidden file beside it, is flushed to disk,
and then takes the file's name in one step (POSIX rename(2): a reader sees the old file or the new
one, nothing between). A crash may leave the hidden file, which no reader looks at.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import shutil
import sys
from pathlib import Path

from trainer.disk.private import private_folder, private_new
from trainer.disk.regular_file import UnfitFileError, regular_bytes

SUFFIX = ".yaml"
UNFINISHED_SUFFIX = ".unfinished"
RESERVED_SUFFIX = ".reserved"
MOST_OF_ONE_NAME = 1000
"""Files told apart by a number after their name, before something must be wrong."""
_CANNOT_FLUSH = {errno.EINVAL, errno.ENOSYS, errno.ENOTSUP}
"""The folder's kind knows no flushing (Linux manual page fsync(2), EINVAL): what it wrote stays."""


class ChangedMeanwhileError(Exception):
    """The file no longer holds what was to be replaced; it stays as it is."""


def write_whole(path: Path, content: bytes, instead_of: bytes | None = None) -> None:
    """Make `content` the file at `path`, on disk when this returns, with its folder if need be.

    A link stays a link to the file it leads to, and the file keeps its permissions. Raises OSError
    where it can't be written, and ChangedMeanwhileError where it doesn't hold exactly `instead_of`;
    the file is then as it was.
    """
    path = path.resolve()
    unfinished = unfinished_file(path.parent, path.name, content)
    try:
        with contextlib.suppress(FileNotFoundError):
            shutil.copymode(path, unfinished)
        if instead_of is not None and path.read_bytes() != instead_of:
            raise ChangedMeanwhileError(str(path))
        take_place(unfinished, path, content)
    finally:
        drop(unfinished)
    flush_folder(path.parent)


def write_new(folder: Path, stem: str, content: bytes) -> Path:
    """A new file under the first free name, on disk when this returns; OSError if it can't be."""
    unfinished = unfinished_file(folder, stem, content)
    try:
        path = claim(unfinished, folder, stem)
    finally:
        drop(unfinished)
    flush_folder(folder)
    return path


def holds(path: Path, content: bytes | None) -> bool:
    """Whether the file is there with exactly this content; OSError if it can't be read."""
    if content is None:
        return False
    try:
        return regular_bytes(path, len(content)) == content
    except (FileNotFoundError, UnfitFileError):
        return False


def unfinished_file(folder: Path, stem: str, content: bytes) -> Path:
    """A hidden file of this content in the folder, flushed to disk; OSError if it can't be."""
    private_folder(folder)
    path = folder / f".{stem}-{secrets.token_hex(4)}{UNFINISHED_SUFFIX}"
    try:
        with private_new(path) as file:
            file.write(content)
            file.flush()
            _flush(file.fileno())
    except OSError:
        drop(path)
        raise
    return path


def take_place(unfinished: Path, path: Path, content: bytes) -> None:
    """Put the finished text in the place of the file `path` in one step."""
    try:
        os.replace(unfinished, path)  # noqa: PTH105  (the call the module's docstring names)
    except OSError:
        # "On NFS filesystems, you can not assume that if the operation failed, the file was not
        # renamed": Linux manual page rename(2), BUGS
        if not holds(path, content):
            raise


def claim(unfinished: Path, folder: Path, stem: str, already: bytes | None = None) -> Path:
    """Give the finished text the first free name; never takes a name that is in use.

    A file met on the way that holds exactly `already` is as good as a new one.

    Raises FileExistsError when there are too many of one name.
    """
    for number in range(1, MOST_OF_ONE_NAME):
        path = folder / f"{stem}{f'-{number}' if number > 1 else ''}{SUFFIX}"
        try:
            _take_name(unfinished, path)
        except FileExistsError:
            if holds(path, already):
                return path
            continue
        return path
    raise FileExistsError(errno.EEXIST, f"{MOST_OF_ONE_NAME} files named {stem}")


def _take_name(unfinished: Path, path: Path) -> None:
    """Name the text `path` in one step; FileExistsError if the name is taken."""
    try:
        os.link(unfinished, path)  # fails when the name is taken, unlike rename
    except OSError as fault:
        # "On NFS filesystems, the return code may be wrong": Linux manual page link(2), BUGS
        if _same_file(unfinished, path):
            return
        if isinstance(fault, FileExistsError):
            raise
        _take_name_without_links(unfinished, path)


def _take_name_without_links(unfinished: Path, path: Path) -> None:
    """The same on memory sticks and network folders that know no hard links.

    A hidden file reserves the name among trainers, so that no reader ever meets an empty file.
    """
    reserved = path.with_name(f".{path.name}{RESERVED_SUFFIX}")
    private_new(reserved).close()
    try:
        if os.path.lexists(path):
            raise FileExistsError(errno.EEXIST, "the name is taken", str(path))
        os.replace(unfinished, path)  # noqa: PTH105
    finally:
        drop(reserved)


def _same_file(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False


def drop(path: Path) -> None:
    """Remove a hidden file of ours; where that fails it only takes room."""
    with contextlib.suppress(OSError):
        path.unlink(missing_ok=True)


def _flush(handle: int) -> None:
    """To the disk itself: on macOS fsync(2) may leave it in the drive's own memory, and its manual
    page names F_FULLFSYNC for what must outlast a power cut; not every disk there knows it.
    """
    if sys.platform == "darwin":
        import fcntl

        with contextlib.suppress(OSError):
            fcntl.fcntl(handle, fcntl.F_FULLFSYNC)
            return
    try:
        os.fsync(handle)
    except OSError as fault:
        if fault.errno not in _CANNOT_FLUSH:
            raise


def flush_folder(folder: Path) -> None:
    """Flush the file's name to disk, where the system can (Windows can't)."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
