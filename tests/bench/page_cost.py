"""What a page costs until it stands on the terminal, and what a round sends while it sounds.

    python -m tests.bench.page_cost [--size 120x40] [--write]

In a terminal of its own (a pty), with music in cells, as sixels and by kitty's protocol. A page's
figures are medians of three: processor time until its first frame, how many of the signs of its
fullest frame stood in it, time until its last frame, and the bytes of all. Beside them, in the
same run, stands the smallest screen Textual can push: one line of text. A second of a round
sounding holds the ear and the played-in flutist, so that only the painters' difference means
something. The terminal takes no more than 200 kB a second: how late the last byte of a frame comes
through a slow link is seen at its far end.
`--write` puts 'Cost of a page' into RESULTS.md.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import re
import sys
import time
from bisect import bisect_left
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

from textual.app import ComposeResult
from textual.drivers.linux_driver import LinuxDriver
from textual.screen import Screen
from textual.widgets import Static

from demo.gallery import CELL_PIXELS, Studio, gallery_routine
from tests.bench.results import write_section
from tests.bench.terminal import in_terminal
from trainer.screens.app import TrainerApp
from trainer.screens.pixels.terminal_pixels import PixelWay
from trainer.screens.playing_screen import PlayingScreen
from trainer.session.view import Stage
from trainer.sound.process import collect_only_later_garbage

WAYS = {"cells": None, "sixel": PixelWay.SIXEL, "kitty": PixelWay.KITTY}
RUNS = 3
SETTLES_S = 0.4
WATCHED_S = 6.0
SLOW_BYTES_A_S = 200_000
NO_SIGN = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]|\s")
"""Moves, colours and blanks (ECMA-48, control sequences)."""
PAGE_S = 30.0
"""A page that sends nothing for so long never will."""
FRAME = 500
"""Bytes from which on a write is a frame of a page."""
SMALLEST, READY = "smallest Textual screen", "a round, ready"
PAGES = {
    "settings": "settings",
    "help": "help",
    "music": "preview",
    "week": "week",
    "go to": "exercises",
    "click": "click",
}
"""Pages by the app's action that opens them over Today."""


class _Smallest(Screen[None]):
    def compose(self) -> ComposeResult:
        yield Static("x")


class _Watched(TrainerApp):
    """Opens one page after another, and writes down what each sent and when."""

    CSS_PATH = Path(sys.modules[TrainerApp.__module__].__file__ or "").with_name("trainer.tcss")

    def __init__(self, studio: Studio, found: dict[str, Any]) -> None:
        super().__init__(studio.session, studio.week)
        self._studio = studio
        self._found = found
        self._writes: list[tuple[float, int, int]] = []
        """When, bytes, and signs among them."""

    def on_mount(self) -> None:
        """Textual calls the trainer's own too."""
        driver = type(self._driver).__mro__[1]  # below what leaves frames out
        write = driver.write

        def told(this: Any, data: str) -> None:
            write(this, data)
            self._writes.append((time.process_time(), len(data.encode()), signs_in(data)))

        driver.write = told  # type: ignore[union-attr]
        self.run_worker(self._all())

    async def _all(self) -> None:
        await asyncio.sleep(1.0)
        collect_only_later_garbage()
        pages: dict[str, Any] = {}
        pages[SMALLEST] = await self._page(lambda: self.push_screen(_Smallest()), self.pop_screen)
        for name, action in PAGES.items():
            open_it = getattr(self, f"action_{action}")
            pages[name] = await self._page(open_it, lambda: self.simulate_key("escape"))
        self._found["today"] = await self._watch()
        self._studio.do(self._studio.session.advance)
        await asyncio.sleep(SETTLES_S)
        ready = PlayingScreen
        session = self._studio.session
        pages[READY] = await self._page(lambda: self.switch_screen(ready(session)), lambda: None)
        self._studio.do(session.advance)
        self._studio.until(lambda view: view.stage is Stage.PLAYING)
        self._found |= {"pages": pages, "sounding": await self._watch(sounding=True)}
        self.exit()

    async def _page(
        self, go: Callable[[], object], back: Callable[[], object]
    ) -> tuple[float, float, float, float]:
        """Milliseconds to the first frame and to the last, bytes, and the share of the fullest's
        signs in the first."""
        found = []
        for _ in range(RUNS):
            await asyncio.sleep(SETTLES_S)
            self._writes.clear()
            begun_s = time.process_time()
            go()
            async with asyncio.timeout(PAGE_S):
                while not any(sent >= FRAME for _, sent, _ in self._writes):
                    await asyncio.sleep(SETTLES_S)
            await asyncio.sleep(SETTLES_S)
            frames = [(at, signs) for at, sent, signs in self._writes if sent >= FRAME]
            (first_s, signs), (last_s, _) = frames[0], frames[-1]
            sent, fullest = sum(sent for _, sent, _ in self._writes), max(n for _, n in frames)
            taken_ms = 1000 * (first_s - begun_s), 1000 * (last_s - begun_s)
            found.append((*taken_ms, sent, signs / fullest))
            back()
        return tuple(map(median, zip(*found, strict=True)))  # type: ignore[return-value]

    async def _watch(self, *, sounding: bool = False) -> dict[str, float]:
        """CPU, bytes a second, the largest frame, and from when to when."""
        self._writes.clear()
        begun_s, cpu_s = time.monotonic(), time.process_time()
        port, played_s = self._studio.port, 0.0
        while (now_s := time.monotonic() - begun_s) < WATCHED_S:
            if sounding:
                port.advance(round((now_s - played_s) * port.sample_rate_hz))
                self._studio.session.tick()
                played_s = now_s
            await asyncio.sleep(1 / 60)
        sizes = [sent for _, sent, _ in self._writes]
        return {
            "cpu": (time.process_time() - cpu_s) / WATCHED_S,
            "bytes": sum(sizes) / WATCHED_S,
            "largest": max(sizes, default=0),
            "begun_s": begun_s,
            "ended_s": time.monotonic(),
        }


def signs_in(data: str) -> int:
    """How many signs a write shows: pictures count by the bytes of their code."""
    return len(NO_SIGN.sub("", data))


def late_s(
    writes: Sequence[tuple[float, int]],
    arrivals: Sequence[tuple[float, int]],
    begun_s: float,
    ended_s: float,
) -> float:
    """How long after it was written the last byte of a write came at the far end, at most; each is
    (when, bytes so far), and of the writes those between the two moments count.
    """
    far = [total for _, total in arrivals]
    return max(
        (
            arrivals[bisect_left(far, total)][0] - at_s
            for at_s, total in writes
            if begun_s <= at_s < ended_s
        ),
        default=0.0,
    )


def all_written(writes: list[tuple[float, int]]) -> Any:
    """The terminal driver's `write`, which notes down each from the program's first byte on."""
    write = LinuxDriver.write

    def noted(driver: LinuxDriver, data: str) -> None:
        before = writes[-1][1] if writes else 0
        writes.append((time.monotonic(), before + len(data.encode())))
        write(driver, data)

    return noted


def watched(way: str, file: Path) -> None:
    """One way to show music, in the terminal it is started in."""
    found: dict[str, Any] = {}
    writes: list[tuple[float, int]] = []
    with (
        TemporaryDirectory() as home,
        patch.object(LinuxDriver, "write", all_written(writes)),
        patch("trainer.screens.playing_screen.cell_pixels", lambda: CELL_PIXELS),
    ):
        app = _Watched(Studio(Path(home), gallery_routine(Path(home))), found)
        app.pixels = WAYS[way]
        app.run()
    file.write_text(json.dumps(found | {"writes": writes}))


def section(found: dict[str, dict[str, Any]], size: tuple[int, int]) -> str:
    """The figures as a table."""
    rows = []
    for way, each in found.items():
        smallest_ms = each["pages"][SMALLEST][0]
        for name, (first_ms, whole_ms, sent, whole) in each["pages"].items():
            if way == "cells" or name in (SMALLEST, READY):
                rows.append(
                    f"| {name}, {way} | {first_ms:.0f} ms ({first_ms / smallest_ms:.1f}) "
                    f"| {100 * whole:.0f} % | {whole_ms:.0f} ms | {sent / 1000:.0f} kB |"
                )
    moving = [
        f"| {what}, {way} | {100 * now['cpu']:.0f} % of a core | {now['bytes'] / 1000:.1f} kB/s "
        f"| {now['largest'] / 1000:.1f} kB | {1000 * now['late_s']:.0f} ms |"
        for way, each in found.items()
        for what, now in (("Today", each["today"]), ("sounding", each["sounding"]))
    ]
    return (
        f"{size[0]}×{size[1]}, cells of {CELL_PIXELS[0]}×{CELL_PIXELS[1]} pixels; "
        f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the end.\n\n"
        "| page | CPU to its first frame (of the smallest's) | in it | to its last | sent |\n"
        "|---|---:|---:|---:|---:|\n" + "\n".join(rows) + "\n\n"
        f"| | CPU | sent | largest write | last byte at {SLOW_BYTES_A_S // 1000} kB/s, at most |\n"
        "|---|---:|---:|---:|---:|\n" + "\n".join(moving)
    )


def main() -> None:
    """Each way in a terminal of its own."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--size", default="120x40")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    columns, lines = map(int, options.size.split("x"))
    found = {}
    with TemporaryDirectory() as folder:
        for way in WAYS:
            file = Path(folder) / f"{way}.json"
            command = [sys.executable, "-m", "tests.bench.page_cost", "--watched", way, str(file)]
            seen = in_terminal(
                command,
                dict(os.environ),
                limit_s=300.0,
                size=(columns, lines),
                bytes_a_s=SLOW_BYTES_A_S,
            )
            found[way] = json.loads(file.read_text())
            for watched_s in (found[way]["today"], found[way]["sounding"]):
                span = watched_s["begun_s"], watched_s["ended_s"]
                watched_s["late_s"] = late_s(found[way]["writes"], seen.arrivals, *span)
    text = section(found, (columns, lines))
    print(text)
    if options.write:
        write_section("Cost of a page", text)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--watched"]:
        watched(sys.argv[2], Path(sys.argv[3]))
    else:
        main()
