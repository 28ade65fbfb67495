"""Whether the terminal shows pictures, and by which protocol: asked once, before the screen begins.

One question to the terminal carries three: for kitty's graphics protocol, for the terminal's name
(XTVERSION) and for its primary device attributes (DA1, where 4 is sixel graphics, as in DEC's VT340
and xterm's ctlseqs). Every terminal answers the last, so that nothing waits for the others. tmux
answers for itself: sixel where it was built with it, kitty's protocol never. A key pressed
meanwhile comes in among the answers and is handed on.
"""

from __future__ import annotations

import os
import re
import select
import sys
import time
from enum import StrEnum
from importlib.util import find_spec

QUESTION = (
    b"\x1b_Gi=31,s=1,v=1,a=q,t=d,f=24;AAAA\x1b\\"  # kitty: can you?
    b"\x1b[>q"  # XTVERSION
    b"\x1b[c"  # DA1
)
LONGEST_WAIT_S = 2.0
"""For terminals far away, by satellite too; those near answer within milliseconds. What comes later
would be taken for keys."""
READ_BYTES = 1024
PLACEHOLDERS_SINCE = (0, 28)
"""The first kitty that places pictures by characters (its changelog, 0.28.0)."""
_DEVICE = re.compile(rb"\x1b\[\?([\d;]+)c")
_REPLY = re.compile(rb"\x1b[_P].*?\x1b\\|\x1b\[\?[\d;]*c", re.DOTALL)
"""A control string of the terminal's (APC, DCS: ECMA-48), or its attributes."""
_CAN = re.compile(rb"\x1b_Gi=31;OK")
_KITTY = re.compile(rb"kitty\((\d{1,4})\.(\d{1,4})")
_GHOSTTY = re.compile(rb"ghostty")
SIXEL_ATTRIBUTE = b"4"


class PixelWay(StrEnum):
    """How pictures are sent."""

    KITTY = "kitty"
    """Kitty's protocol, placed by Unicode placeholders: the picture goes with its cells."""
    SIXEL = "sixel"


def way_of(answer: bytes) -> PixelWay | None:
    """What the terminal's answer says it can; None where it shows no pictures."""
    kitty = _KITTY.search(answer)
    version = (int(kitty[1]), int(kitty[2])) if kitty else (0, 0)
    places = version >= PLACEHOLDERS_SINCE or _GHOSTTY.search(answer) is not None
    if _CAN.search(answer) and places:
        return PixelWay.KITTY
    device = _DEVICE.search(answer)
    if device and SIXEL_ATTRIBUTE in device[1].split(b";"):
        return PixelWay.SIXEL
    return None


def typed_in(answer: bytes) -> str:
    """The keys pressed while the terminal was asked, as it sends them."""
    return _REPLY.sub(b"", answer).decode(errors="ignore")


def ask_terminal() -> bytes:
    """What the terminal this program runs in answers, for `way_of` and `typed_in`; nothing where
    it needn't be asked: without Pillow no picture is drawn.
    """
    if find_spec("PIL") is None or sys.platform == "win32":
        return b""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        return b""
    return terminals_answer(sys.stdin.fileno(), sys.stdout.fileno())


def terminals_answer(keyboard: int, screen: int) -> bytes:
    """What comes back, until the device attributes or the end of patience; no key echoes."""
    import termios
    import tty

    before = termios.tcgetattr(keyboard)
    answer, until = b"", time.monotonic() + LONGEST_WAIT_S
    try:
        tty.setcbreak(keyboard, termios.TCSANOW)
        os.write(screen, QUESTION)
        while not _DEVICE.search(answer):
            ready, _, _ = select.select([keyboard], [], [], max(0.0, until - time.monotonic()))
            if not ready:
                break
            answer += os.read(keyboard, READ_BYTES)
    finally:
        termios.tcsetattr(keyboard, termios.TCSANOW, before)
    return answer


def cell_pixels() -> tuple[int, int] | None:
    """Width and height of a cell in pixels; None where the terminal doesn't say."""
    if sys.platform == "win32":
        return None
    import fcntl
    import struct
    import termios

    try:
        told = fcntl.ioctl(sys.__stdout__.fileno(), termios.TIOCGWINSZ, b"\0" * 8)  # type: ignore[union-attr]
    except (OSError, ValueError, AttributeError):
        return None
    rows, columns, width, height = struct.unpack("HHHH", told)
    if not (rows and columns and width and height):
        return None
    return width // columns, height // rows
