"""Signals that ask the program to go end practice as `q` does: written, the terminal restored.

A closed terminal sends HUP, a system that shuts down TERM; QUIT is sent by hand (POSIX). Where HUP
is ignored, or the terminal is not the program's own, it goes without a word: that is looked for.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

LONGEST_S = 20.0
"""A way out that hangs, as on a terminal that takes nothing any more, is cut short then; every
round is on disk already."""
NAMES = ("SIGTERM", "SIGHUP", "SIGQUIT")
LOOK_S = 1.0
"""Nobody waits for it; only the microphone shouldn't stay open."""


@contextmanager
def leaving_with_the_terminal(file: int) -> Iterator[None]:
    """Send the program TERM once the terminal at this descriptor is gone (isatty(3): EIO).

    Nothing is watched where there is none to begin with.
    """
    ended = threading.Event()

    def look() -> None:
        while not ended.wait(LOOK_S):
            if not os.isatty(file):
                os.kill(os.getpid(), signal.SIGTERM)
                return

    if os.isatty(file):
        threading.Thread(target=look, name="terminal-watch", daemon=True).start()
    try:
        yield
    finally:
        ended.set()


@contextmanager
def leaving_at_signals(leave: Callable[[], object]) -> Iterator[None]:
    """Call `leave`, in the main thread, at the first of these signals; later ones change nothing.

    A signal that was ignored before, as after `nohup`, is ignored still.
    """
    asked = [getattr(signal, name) for name in NAMES if hasattr(signal, name)]
    before = {one: signal.getsignal(one) for one in asked}
    heeded = [one for one, action in before.items() if action is not signal.SIG_IGN]

    def go(_signal: int, _frame: object) -> None:
        for one in heeded:
            signal.signal(one, signal.SIG_IGN)
        last_resort = threading.Timer(LONGEST_S, os._exit, (1,))
        last_resort.daemon = True
        last_resort.start()
        leave()

    for one in heeded:
        signal.signal(one, go)
    try:
        yield
    finally:
        for one in heeded:
            if signal.getsignal(one) is go:
                signal.signal(one, before[one])


def leave_now() -> None:
    """Leave the program; everything begun is ended on the way out."""
    sys.exit(0)
