"""A terminal driver that leaves out a frame which the terminal shows already.

Textual paints a new screen whole two to four times over; through a slow line each time counts, and
most where the frame holds pictures.
"""

from __future__ import annotations

from textual.driver import Driver

AROUND_FRAMES = ("\x1b[?2026h", "\x1b[?2026l")
"""Begin and end of synchronised output; they show nothing."""
FRAME = 500
"""Characters from which on it is a frame; what is shorter (a bell) may be meant twice."""


def sent_once(kind: type[Driver]) -> type[Driver]:
    """The same driver, with a frame left out where nothing else was sent since it was."""

    class SentOnce(kind):  # type: ignore[misc,valid-type]
        _sent = ""

        def write(self, data: str) -> None:
            """Send it, unless it is the frame that was sent last."""
            if data == self._sent and len(data) >= FRAME:
                return
            if data not in AROUND_FRAMES:
                self._sent = data
            super().write(data)

    return SentOnce
