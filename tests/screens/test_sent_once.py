"""No frame is sent to the terminal twice running; what was sent between makes it another."""

from __future__ import annotations

from typing import Any

from textual.driver import Driver

from trainer.screens.sent_once import AROUND_FRAMES, FRAME, sent_once

FULL, OTHER = "a" * FRAME, "b" * FRAME


class Kept(Driver):
    """Keeps what it is given."""

    def __init__(self) -> None:
        self.sent: list[str] = []

    def write(self, data: str) -> None:
        self.sent.append(data)

    def _unused(self, *_: Any) -> None: ...

    start_application_mode = disable_input = stop_application_mode = _unused


def written(*data: str) -> list[str]:
    driver = sent_once(Kept)()  # type: ignore[call-arg]
    for each in data:
        driver.write(each)
    return driver.sent  # type: ignore[attr-defined, no-any-return]


def test_a_frame_is_sent_once() -> None:
    begin, end = AROUND_FRAMES
    assert written(begin, FULL, end, begin, FULL, end) == [begin, FULL, end, begin, end]


def test_after_anything_else_it_is_sent_again() -> None:
    """Another frame, a part of one, or the terminal's own state after the program was suspended."""
    for between in (OTHER, "\x1b[3;4H▪", "\x1b[?1049h"):
        assert written(FULL, between, FULL) == [FULL, between, FULL]


def test_a_bell_may_ring_twice() -> None:
    assert written("\a", "\a") == ["\a", "\a"]
