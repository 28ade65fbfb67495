"""Programs run in a terminal of their own (a pty), for the benches.

It answers the question for the primary device attributes at once, as terminals do (DA1: DEC's
VT100 and later, xterm's ctlseqs): a VT220 with colours. Other questions stay without an answer.
"""

from __future__ import annotations

import fcntl
import math
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
SLOW_READ_S = 0.01
"""What a slow link brings in so long is read at once."""
ASKS_ATTRIBUTES, ATTRIBUTES = b"\x1b[c", b"\x1b[?62;22c"


@dataclass(frozen=True)
class Seen:
    """What a program took until it was done, or showed what was waited for."""

    wall_s: float
    processor_s: float
    """Of the program's own process, all its threads together."""
    written: str
    """Until then, escapes and all."""
    arrivals: tuple[tuple[float, int], ...]
    """(by the monotonic clock, bytes that had come by then), each time some were read."""


def in_terminal(
    command: Sequence[str],
    environment: Mapping[str, str],
    until: str = "",
    limit_s: float = LIMIT_S,
    folder: Path | None = None,
    size: tuple[int, int] = (COLUMNS, LINES),
    bytes_a_s: float = math.inf,
) -> Seen:
    """Run a program until it ends, or has written `until` (it is killed there and then).

    `folder`: where it is started; None: here. `size`: columns and lines. `bytes_a_s`: no more is
    taken off the terminal, as at the far end of a slow link.

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
        written, arrivals = _written(master_fd, until.encode(), deadline_s, bytes_a_s)
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
    shown = written.decode(errors="replace")
    return Seen(wall_s, used.ru_utime + used.ru_stime, shown, tuple(arrivals))


def _written(
    terminal_fd: int, until: bytes, deadline_s: float, bytes_a_s: float
) -> tuple[bytes, list[tuple[float, int]]]:
    """What is written to the terminal until it is closed, or `until` is there; and when it came."""
    written, answered = b"", 0
    arrivals: list[tuple[float, int]] = []
    most = 65536 if bytes_a_s == math.inf else round(bytes_a_s * SLOW_READ_S)
    while time.monotonic() < deadline_s:
        if not select.select([terminal_fd], [], [], LOOK_S)[0]:
            continue
        try:
            new = os.read(terminal_fd, most)
        except OSError:  # the program closed its terminal
            break
        time.sleep(len(new) / bytes_a_s)
        written += new
        arrivals.append((time.monotonic(), len(written)))
        asked = written.count(ASKS_ATTRIBUTES)
        os.write(terminal_fd, ATTRIBUTES * (asked - answered))
        answered = asked
        if not new or (until and until in written):
            break
    return written, arrivals
