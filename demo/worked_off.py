"""Waiting for an app without looking at the clock: for its pictures and for tests."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager
from unittest.mock import patch

MOST_PASSES = 100_000


async def all_worked_off(min_sleep: float = 0.0, max_sleep: float = 0.0) -> None:  # noqa: ARG001
    """Until nothing in the app can go on before time passes; takes no time of its own."""
    loop = asyncio.get_running_loop()
    for _ in range(MOST_PASSES):
        await asyncio.sleep(0)
        if not loop._ready:  # type: ignore[attr-defined] # asyncio has no public word for it
            return
    raise AssertionError("the app never comes to rest")


@contextmanager
def pilots_without_a_clock() -> Iterator[None]:
    """A pilot's own wait is by the clock: 20 ms and more of little work, twice after each key."""
    with (
        patch("textual.pilot.wait_for_idle", all_worked_off),
        patch("textual.app.wait_for_idle", all_worked_off),
    ):
        yield
