"""Keys from a terminal one by one, without a screen."""

from __future__ import annotations

import os
import select
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

WAIT_S = 0.05
SEQUENCES = {
    " ": "space",
    "\r": "enter",
    "\n": "enter",
    "\x1b": "escape",
    "\x1b[6~": "pagedown",
    "\x1b[5~": "pageup",
    "\x1b[A": "up",
    "\x1b[B": "down",
    "\x03": "q",
    "": "q",
}
"""What terminals send (ECMA-48, as xterm has it); an ended input counts as leaving."""


def key_of(sent: str) -> str:
    """The key behind what the terminal sent at once."""
    return SEQUENCES.get(sent) or SEQUENCES.get(sent[0], sent[0])


@contextmanager
def keys() -> Iterator[Callable[[], str | None]]:
    """A function that gives the next key, or None after a moment without one."""
    if sys.platform == "win32":
        yield _windows_key
        return
    fd = sys.stdin.fileno()
    with _one_by_one(fd):
        yield lambda: _key(fd)


def _key(fd: int) -> str | None:
    if not select.select([fd], [], [], WAIT_S)[0]:
        return None
    return key_of(os.read(fd, 16).decode("utf-8", "replace"))


@contextmanager
def _one_by_one(fd: int) -> Iterator[None]:
    """The terminal hands keys over at once and doesn't print them; as before afterwards."""
    if not os.isatty(fd):
        yield
        return
    import termios
    import tty

    before = termios.tcgetattr(fd)
    try:
        tty.setcbreak(fd)
        yield
    finally:
        termios.tcsetattr(fd, termios.TCSADRAIN, before)


def _windows_key() -> str | None:
    import msvcrt  # type: ignore[import-not-found,unused-ignore]
    import time

    if not msvcrt.kbhit():  # type: ignore[attr-defined,unused-ignore]
        time.sleep(WAIT_S)
        return None
    sent: str = msvcrt.getwch()  # type: ignore[attr-defined,unused-ignore]
    if sent in "\x00\xe0":
        special = {"Q": "pagedown", "I": "pageup", "H": "up", "P": "down"}
        return special.get(msvcrt.getwch(), "")  # type: ignore[attr-defined,unused-ignore]
    return key_of(sent)
