"""Two sounds one after the other, by the port's own frames."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.errors import SoundError
from trainer.session.side_by_side import BEGINS_S, BETWEEN_S, SideBySide
from trainer.sound.kept_takes import HEARD_AGAIN_PEAK
from trainer.sound.simulated import SimulatedPort

RATE = 48000
OLD = np.full(RATE // 2, 0.9, np.float32)
NEW = np.full(RATE, 0.1, np.float32)


def both() -> tuple[SimulatedPort, SideBySide]:
    port = SimulatedPort(RATE, memory_s=10)
    return port, SideBySide(port, lambda _: (OLD, NEW))


def test_one_after_the_other_and_neither_louder_than_the_partner() -> None:
    port, takes = both()
    takes.play((0, 1))
    found = []
    for _ in range(round(4 * RATE) // 480):
        port.advance(480)
        found.append(takes.view().sounding)
    turns = [one for one, before in zip(found, [9, *found], strict=False) if one != before]
    assert turns == [None, 0, None, 1, None]
    assert takes.view().sounding is None
    played = port.played(0, port.now_frame())
    sounding = np.flatnonzero(played)
    begin = round(BEGINS_S * RATE)
    second = begin + OLD.size + round(BETWEEN_S * RATE)
    assert (sounding[0], sounding[-1]) == (begin, second + NEW.size - 1)
    assert not played[begin + OLD.size : second].any()
    assert np.abs(played).max() <= HEARD_AGAIN_PEAK + 1e-6


def test_at_another_rate_they_are_read_again_or_not_heard() -> None:
    port = SimulatedPort(RATE, memory_s=10)
    asked: list[int] = []

    def load(rate: int) -> tuple[np.ndarray, np.ndarray]:
        asked.append(rate)
        if len(asked) == 2:
            raise SoundError("The sound device changed.")
        return OLD, NEW

    takes = SideBySide(port, load)
    port._sample_rate_hz = 44100
    with pytest.raises(SoundError):
        takes.play((0,))
    takes.play((0,))
    assert asked == [RATE, 44100, 44100], "never at the old rate"


def test_one_alone_breaks_the_other_off() -> None:
    port, takes = both()
    takes.play((0, 1))
    port.advance(round(0.5 * RATE))
    takes.play((1,))
    port.advance(RATE // 2)
    assert takes.view().sounding == 1
    takes.close()
    assert takes.view().sounding is None
