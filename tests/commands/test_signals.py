"""TERM, HUP and QUIT end the practice on the screen as `q` does, in a terminal of their own.

What must be undone is in the terminal's own words: xterm control sequences, 'DEC Private Mode
Set/Reset' (DECSET/DECRST): 1049 the alternate screen, 1000 to 1006 mouse reports, 25 the cursor.
"""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Callable
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("a pty is POSIX's", allow_module_level=True)

PROJECT = Path(__file__).parents[2]
LIMIT_S = 90.0
ROUTINE = """\
title: Short
exercises:
- scale: a
  key: C major
  range: one octave
  tempo: 208
  articulations: [slurred, single, legato tongue]
"""
SETS = re.compile(rb"\x1b\[\?([0-9;]+)([hl])")


class InTerminal:
    """The trainer in a pty that is its controlling terminal."""

    def __init__(self, home: Path, *words: str) -> None:
        routine = home / "short.yaml"
        routine.write_text(ROUTINE)
        self.terminal, slave = pty.openpty()
        termios.tcsetwinsize(self.terminal, (40, 120))
        self.before = termios.tcgetattr(slave)
        self.slave = slave
        self.written = b""
        self.program = subprocess.Popen(
            [sys.executable, "-m", "trainer", "practise", "--routine", str(routine), *words],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=PROJECT,
            env=dict(os.environ, TRAINER_HOME=str(home), TERM="xterm-256color"),
            start_new_session=True,
        )

    def read_until(self, done: Callable[[], bool]) -> None:
        deadline_s = time.monotonic() + LIMIT_S
        while not done():
            assert time.monotonic() < deadline_s, self.written[-3000:]
            if b"to mend before" in self.written:
                pytest.fail(self.written.decode())
            if select.select([self.terminal], [], [], 0.05)[0]:
                self.written += os.read(self.terminal, 65536)

    def set_now(self) -> dict[bytes, bytes]:
        """Each private mode as it was last set: b'h' or b'l'."""
        return {
            mode: how for modes, how in SETS.findall(self.written) for mode in modes.split(b";")
        }

    def close(self) -> None:
        self.program.kill()
        self.program.wait()
        os.close(self.terminal)
        os.close(self.slave)


def rounds(home: Path) -> list[str]:
    return [file.read_text() for file in (home / "journal").glob("*.yaml")]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGQUIT"])
def test_a_signal_in_the_middle_of_practice_ends_it_as_q_does(name: str, tmp_path: Path) -> None:
    practising = InTerminal(tmp_path, "--player")
    try:
        practising.read_until(lambda: b"Short" in practising.written)
        os.write(practising.terminal, b" ")
        time.sleep(0.5)

        def a_round_is_written() -> bool:
            os.write(practising.terminal, b"\x1b[6~" if not rounds(tmp_path) else b"")
            time.sleep(0.3)
            return any("rounds:\n-" in text for text in rounds(tmp_path))

        practising.read_until(a_round_is_written)
        assert practising.set_now()[b"1049"] == b"h"
        practising.program.send_signal(getattr(signal, name))
        practising.read_until(lambda: practising.program.poll() is not None)
        practising.read_until(lambda: not select.select([practising.terminal], [], [], 0.2)[0])
        assert practising.program.returncode == 0
        modes = practising.set_now()
        left_on = {mode for mode, how in modes.items() if how == b"h"}
        assert left_on <= {b"25", b"7"}, "cursor shown, lines wrapped; nothing else is left on"
        assert termios.tcgetattr(practising.slave)[3] == practising.before[3]
        (text,) = rounds(tmp_path)
        assert "\nended: " in text
    finally:
        practising.close()


@pytest.mark.slow
def test_in_lines_too(tmp_path: Path) -> None:
    practising = InTerminal(tmp_path, "--player", "--lines")
    try:
        practising.read_until(lambda: b"Short" in practising.written)
        practising.program.send_signal(signal.SIGTERM)
        practising.read_until(lambda: practising.program.poll() is not None)
        assert practising.program.returncode == 0
        assert termios.tcgetattr(practising.slave)[3] == practising.before[3]
    finally:
        practising.close()
