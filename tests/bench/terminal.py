"""Programs run in a terminal of their own (a pty), for the benches.

It answers the question for the primary device attributes at once, as terminals do (DA1: DEC's
VT100 and later, xterm's ctlseqs): a VT220 with colours. Other questions stay without an answer.
"""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import termios
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

COLUMNS, LINES = 120, 40
LIMIT_S = 90.0
LOOK_S = 0.5
ASKS_ATTRIBUTES, ATTRIBUTES = b"\x1b[c", b"\x1b[?62;22c"


@dataclass(frozen=True)
class Seen:
    """What a program took until it was done, or showed what was waited for."""

    wall_s: float
    processor_s: float
    """Of the program's own process, all its threads together."""
    written: str
    """Until then, escapes and all."""


def in_terminal(
    command: Sequence[str],
    environment: Mapping[str, str],
    until: str = "",
    limit_s: float = LIMIT_S,
    folder: Path | None = None,
    size: tuple[int, int] = (COLUMNS, LINES),
) -> Seen:
    """Run a program until it ends, or has written `until` (it is killed there and then).

    `folder`: where it is started; None: here. `size`: columns and lines.

    Raises SystemExit where it fails, or where `until` is not written in time.
    """
    master_fd, slave_fd = pty.openpty()
    fcntl.ioctl(slave_fd, termios.TIOCSWINSZ, struct.pack("HHHH", size[1], size[0], 0, 0))
    began_s = time.monotonic()
    deadline_s = began_s + limit_s
    program = subprocess.Popen(
        command,
        stdin=slave_fd,
        stdout=slave_fd,
        stderr=slave_fd,
        env={**environment, "TERM": "xterm-256color", "COLORTERM": "truecolor"},
        start_new_session=True,
        cwd=folder,
    )
    os.close(slave_fd)
    try:
        written = _written(master_fd, until.encode(), deadline_s)
        wall_s = time.monotonic() - began_s
    finally:
        if until or time.monotonic() >= deadline_s:
            os.killpg(program.pid, signal.SIGKILL)
        _, status, used = os.wait4(program.pid, 0)
        program.returncode = os.waitstatus_to_exitcode(status)
        os.close(master_fd)
    if until and until.encode() not in written:
        raise SystemExit(f"{command}: nothing to see: {written[-2000:]!r}")
    if program.returncode and not until:
        raise SystemExit(f"{command} ended with {program.returncode}: {written[-3000:].decode()}")
    return Seen(wall_s, used.ru_utime + used.ru_stime, written.decode(errors="replace"))


def _written(terminal_fd: int, until: bytes, deadline_s: float) -> bytes:
    """What is written to the terminal until it is closed, or `until` is there."""
    written, answered = b"", 0
    while time.monotonic() < deadline_s:
        if not select.select([terminal_fd], [], [], LOOK_S)[0]:
            continue
        try:
            new = os.read(terminal_fd, 65536)
        except OSError:  # the program closed its terminal
            break
        written += new
        asked = written.count(ASKS_ATTRIBUTES)
        os.write(terminal_fd, ATTRIBUTES * (asked - answered))
        answered = asked
        if not new or (until and until in written):
            break
    return written
