"""What steady sound asks of the whole process: a quiet terminal and no long pauses."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from trainer.disk.private import private_appending
from trainer.errors import SoundError

STDERR_FD = 2
SWITCH_INTERVAL_S = 0.0005
"""Threads hand over the interpreter this often while sound runs (Python's default is 0.005)."""
NOT_HERE = "On Windows the trainer can neither play nor listen. Practise with it on Linux or macOS."


def refuse_system_without_sound() -> None:
    """Raises SoundError on Windows: the engine is handed the memory it shares as a descriptor, as
    only POSIX can (Python's `subprocess`, `pass_fds`)."""
    if sys.platform == "win32":
        raise SoundError(NOT_HERE)


@contextmanager
def quiet_stderr(log_path: Path) -> Iterator[None]:
    """Send file descriptor 2 to a log: sound systems write complaints into a full-screen program.

    Enter it before the screen starts: `sys.__stderr__`, through which Textual draws, goes on to
    the terminal. Appends to the log and makes its folder; where neither can be written, what they
    say is lost and practice goes on.
    """
    sys.stderr.flush()
    drawn_through = sys.__stderr__
    kept_fd = os.dup(STDERR_FD)
    log_fd = _log_fd(log_path)
    terminal = os.fdopen(os.dup(kept_fd), "w", encoding="utf-8", errors="replace")
    try:
        os.dup2(log_fd, STDERR_FD)
        sys.__stderr__ = terminal  # type: ignore[misc]
        yield
    finally:
        sys.__stderr__ = drawn_through  # type: ignore[misc]
        terminal.close()
        sys.stderr.flush()
        os.dup2(kept_fd, STDERR_FD)
        os.close(log_fd)
        os.close(kept_fd)


def write_to_log(words: str) -> None:
    """Say in the log what isn't for the student; a screen keeps for itself what goes to
    `sys.stderr`."""
    with suppress(OSError):
        os.write(STDERR_FD, words.encode("utf-8", "replace"))


def _log_fd(log_path: Path) -> int:
    try:
        with private_appending(log_path) as log:
            return os.dup(log.fileno())
    except OSError:
        return os.open(os.devnull, os.O_WRONLY)


def collect_only_later_garbage() -> None:
    """Look for garbage among later objects alone: what is loaded by now stays to the end.

    Going through all of it again holds up screen and ear for a tenth of a second each time.
    """
    gc.unfreeze()
    gc.collect()
    gc.freeze()


@contextmanager
def undisturbed() -> Iterator[None]:
    """Keep the interpreter from holding up the sound thread: no garbage collection, quick turns.

    For a process that makes little garbage, such as the sound engine.
    """
    was_enabled, interval_s = gc.isenabled(), sys.getswitchinterval()
    collect_only_later_garbage()
    gc.disable()
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    try:
        yield
    finally:
        sys.setswitchinterval(interval_s)
        gc.unfreeze()
        if was_enabled:
            gc.enable()
