"""What is printed: all of it passes through here, so that nothing from outside commands a terminal.

A screen draws for itself, through `sys.__stderr__`; its lines pass `screens/appearance.py`.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, TextIO

from trainer.disk.outside_text import visible

TO_THE_BEGINNING, THE_REST_EMPTY = "\r", "\033[K"
"""Of the line (ECMA-48, CR and EL)."""


class PlainStream:
    """A text stream that makes everything written to it visible and, where need be, ASCII."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Write the text; the number of its characters."""
        encoding = getattr(self._stream, "encoding", None) or "utf-8"
        shown = visible(text).encode(encoding, "replace").decode(encoding)
        self._stream.write(shown)
        return len(text)

    def writelines(self, lines: Any) -> None:
        """Write one after the other."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


@contextmanager
def plain_output() -> Iterator[None]:
    """Standard output and standard error are plain streams meanwhile."""
    out, err = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = PlainStream(out), PlainStream(err)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = out, err


def progress(words: str) -> None:
    """Show how far a long work has come, on one line, to a person at a terminal; '' ends it."""
    terminal = sys.__stderr__
    if terminal is not None and terminal.isatty():
        terminal.write(f"{TO_THE_BEGINNING}{visible(words)}{THE_REST_EMPTY}")
        terminal.flush()
