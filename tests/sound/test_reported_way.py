"""A lasting change of the way that a device reports is told where the sound thread was held up, and
nothing that passes."""

from __future__ import annotations

from collections.abc import Collection, Iterable

import pytest

from trainer.sound.reported_way import ReportedWay

RATE, BLOCK = 48000, 2048
MEASURED_S = (0.1279, 0.1278, 0.1291, 0.1281, 0.1299, 0.1285, 0.1259, 0.1274, 0.1307, 0.1283)
"""Out of a minute through PulseAudio beside six busy programs, where no tap moved."""
STEADY_S = MEASURED_S * 10
WANDERED_S = (
    *(0.2059, 0.2018, 0.1943, 0.1896, 0.1851, 0.1439, 0.1794, 0.1739, 0.1656, 0.1572, 0.1489),
    *(0.1405, 0.1322, 0.1674, 0.1571, 0.1404, 0.1621, 0.1251, 0.159, 0.1236, 0.1164, 0.1114),
)
"""Through the same server's microphone of its own, in 2.5 s; each for some blocks."""


IN_TIME_S, HELD_UP_S = 0.083, 0.132
"""Measured beside seven busy programs: pauses of the sound thread where no tap moved, and the
shortest before one did (the server stopped for 0.11 s)."""


def moves(ways_s: Iterable[float], held_up: Collection[int] = ()) -> list[int]:
    """The blocks at which it moved; before those that are named the sound thread was held up."""
    way = ReportedWay(RATE)
    found = (
        way.moved_at(block * BLOCK, way_s, HELD_UP_S if block in held_up else IN_TIME_S)
        for block, way_s in enumerate(ways_s)
    )
    return [frame // BLOCK for frame in found if frame is not None]


def test_it_moves_where_the_sound_server_was_held_up() -> None:
    """As measured around a stop of 0.09 s, after which taps came 2047 frames later, and of 0.12 s,
    with 4094."""
    held_up = (*STEADY_S, *[0.134] * 3, *[0.1706] * 100, 0.2119, *[0.2133] * 100)
    assert moves(held_up, held_up={100, 203}) == [103, 203]


def test_figures_that_step_while_the_sound_goes_on_are_no_move() -> None:
    """A device whose figures wander may also stand, step by 0.04 s and stand again: as long as the
    blocks come in time, nothing that lay ready ran dry."""
    stepped = (*STEADY_S, *[0.1706] * 100)
    assert moves(stepped) == []
    assert moves(stepped, held_up={60, 150}) == []
    assert moves(stepped, held_up={100}) == [100]


@pytest.mark.parametrize(
    "ways_s",
    [
        STEADY_S,
        [0.1 + 0.03 * (block % 4 == 0) for block in range(500)],
        [0.1 + 1e-4 * block for block in range(2000)],
        [0.0] * 100,
        [way_s for way_s in 3 * WANDERED_S for _ in range(8)],
        [*[0.05] * 40, *STEADY_S],
    ],
    ids=["busy", "in coarse steps", "two clocks", "not reported", "wandering", "just begun"],
)
def test_what_wavers_or_creeps_is_no_move(ways_s: Iterable[float]) -> None:
    assert moves(ways_s, held_up=range(2000)) == []
