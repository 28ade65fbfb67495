"""A lasting change of the way that a device reports is told, and nothing that passes."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from trainer.sound.reported_way import ReportedWay

RATE, BLOCK = 48000, 2048
MEASURED_S = (0.1279, 0.1278, 0.1291, 0.1281, 0.1299, 0.1285, 0.1259, 0.1274, 0.1307, 0.1283)
"""Out of a minute through PulseAudio beside six busy programs, where no tap moved."""
STEADY_S = MEASURED_S * 10


def moves(ways_s: Iterable[float]) -> list[int]:
    """The blocks at which it moved."""
    way = ReportedWay(RATE)
    found = (way.moved_at(block * BLOCK, way_s) for block, way_s in enumerate(ways_s))
    return [frame // BLOCK for frame in found if frame is not None]


def test_it_moves_where_the_sound_server_was_held_up() -> None:
    """As measured around a stop of 0.09 s, after which taps came 2047 frames later, and of 0.12 s,
    with 4094."""
    held_up = (*STEADY_S, *[0.134] * 3, *[0.1706] * 100, 0.2119, *[0.2133] * 100)
    assert moves(held_up) == [103, 203]


@pytest.mark.parametrize(
    "ways_s",
    [
        STEADY_S,
        [0.1 + 0.03 * (block % 4 == 0) for block in range(500)],
        [0.1 + 1e-4 * block for block in range(2000)],
        [0.0] * 100,
    ],
    ids=["busy", "in coarse steps", "two clocks", "not reported"],
)
def test_what_wavers_or_creeps_is_no_move(ways_s: Iterable[float]) -> None:
    assert moves(ways_s) == []
