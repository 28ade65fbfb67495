"""The content of a small file that others may have laid there: never a pipe, a device or a flood.

A named pipe would be waited for without end, and `/dev/zero` would be read until memory is full;
both can stand under any name.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

_OPENED = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
"""Opening a pipe to read returns at once, should one take the file's place after the look at it."""


class UnfitFileError(OSError):
    """What stands there is no regular file or is too large; `strerror` says which."""


def regular_bytes(path: Path, largest_bytes: int) -> bytes:
    """The whole content of a regular file.

    Raises UnfitFileError for anything that is no regular file or has more than `largest_bytes`,
    and OSError where it can't be opened or read.
    """
    try:
        _refuse_unfit(os.stat(path), path, largest_bytes)  # noqa: PTH116  (its twin is fstat)
        handle = os.open(path, _OPENED)
    except ValueError as fault:  # a name no file can have
        raise UnfitFileError(errno.EINVAL, str(fault), str(path)) from None
    with os.fdopen(handle, "rb") as file:
        _refuse_unfit(os.fstat(file.fileno()), path, largest_bytes)
        content = file.read(largest_bytes + 1)
    if len(content) > largest_bytes:
        raise _too_large(path, largest_bytes)
    return content


def first_bytes(path: Path, count: int) -> bytes:
    """How a regular file begins, however long it is.

    Raises UnfitFileError and OSError as `regular_bytes` does.
    """
    try:
        handle = os.open(path, _OPENED)
    except ValueError as fault:  # a name no file can have
        raise UnfitFileError(errno.EINVAL, str(fault), str(path)) from None
    with os.fdopen(handle, "rb") as file:
        status = os.fstat(file.fileno())
        _refuse_unfit(status, path, status.st_size)
        return file.read(count)


def _refuse_unfit(status: os.stat_result, path: Path, largest_bytes: int) -> None:
    if stat.S_ISDIR(status.st_mode):
        raise UnfitFileError(errno.EISDIR, "it is a folder", str(path))
    if not stat.S_ISREG(status.st_mode):
        raise UnfitFileError(errno.EINVAL, "it is a device or a pipe, not a file", str(path))
    if status.st_size > largest_bytes:
        raise _too_large(path, largest_bytes)


def _too_large(path: Path, largest_bytes: int) -> UnfitFileError:
    size = f"{largest_bytes / 1e6:g} MB" if largest_bytes >= 1e6 else f"{largest_bytes // 1000} kB"
    return UnfitFileError(errno.EFBIG, f"it is larger than {size}", str(path))
