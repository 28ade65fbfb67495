"""A terminal of one's own (a pty) for the trainer: what it writes is read, keys are pressed, and
what it should have put back is looked at.

What must be undone is in the terminal's own words: xterm control sequences, 'DEC Private Mode
Set/Reset' (DECSET/DECRST): 1049 the alternate screen, 1000 to 1006 mouse reports, 25 the cursor.
"""

from __future__ import annotations

import os
import pty
import re
import select
import termios
import time
from collections.abc import Callable
from pathlib import Path

PAGE_DOWN = b"\x1b[6~"
"""The page-turn pedal's key."""
MODES = re.compile(rb"\x1b\[\?([0-9;]+)([hl])")
ASKS_WHAT_IT_IS, WHAT_IT_IS = b"\x1b[c", b"\x1b[?62;22c"
"""Primary device attributes (DA1), which every terminal answers: a VT220 with colours."""
MAY_STAY_ON = {b"25", b"7"}
"""DECTCEM and DECAWM: a cursor that shows, lines that wrap."""
ROUTINE = """\
title: Short
exercises:
- scale: a
  key: C major
  range: one octave
  tempo: 208
  articulations: [slurred, single, legato tongue]
"""
TITLE = b"Short"
"""Of the routine: on the screen once Today is shown."""
LOOK_S = 0.05


def routine_in(home: Path) -> Path:
    """A routine of short rounds, written there."""
    routine = home / "short.yaml"
    routine.write_text(ROUTINE)
    return routine


class OwnTerminal:
    """A pty, as a program in it sees it (`slave`) and as who sits before it does."""

    def __init__(self, lines: int = 40, columns: int = 120) -> None:
        self._master, self.slave = pty.openpty()
        termios.tcsetwinsize(self._master, (lines, columns))
        self._before = termios.tcgetattr(self.slave)
        self.written = b""
        """Everything that was written to it so far."""
        self.is_open = True

    def press(self, keys: bytes) -> None:
        """Press these keys."""
        os.write(self._master, keys)

    def read_for(self, seconds: float) -> None:
        """Read what is written meanwhile."""
        deadline_s = time.monotonic() + seconds
        while (left_s := deadline_s - time.monotonic()) > 0:
            if select.select([self._master], [], [], left_s)[0]:
                now = os.read(self._master, 65536)
                self.written += now
                if ASKS_WHAT_IT_IS in now:
                    self.press(WHAT_IT_IS)

    def read_until(self, done: Callable[[], bool], limit_s: float) -> None:
        """Read on until it is so. Raises TimeoutError with the last that was written."""
        deadline_s = time.monotonic() + limit_s
        while not done():
            if time.monotonic() > deadline_s:
                raise TimeoutError(ascii(self.written[-3000:]))
            self.read_for(LOOK_S)

    @property
    def shows_today(self) -> bool:
        """The first picture is there."""
        return TITLE in self.written

    @property
    def modes_left_on(self) -> set[bytes]:
        """Private modes that were set and not reset."""
        now = {mode: how for many, how in MODES.findall(self.written) for mode in many.split(b";")}
        return {mode for mode, how in now.items() if how == b"h"} - MAY_STAY_ON

    @property
    def settings_as_before(self) -> bool:
        """Echo, lines and signals by keys are as they were."""
        return bool(termios.tcgetattr(self.slave)[3] == self._before[3])

    def close(self) -> None:
        """Nobody sits before it any more."""
        os.close(self._master)
        os.close(self.slave)
        self.is_open = False
