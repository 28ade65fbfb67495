"""Clicks through a sound server that keeps every sample.

    python -m tests.bench.sample_exact [SECONDS]

JACK's dummy driver brings back what is played over its loop cable. The real engine and port play
clicks at a tempo that does not divide the rate; each must come back a constant number of samples
after its place. Needs `jackd` (Debian: jackd2). Writes 'Clicks over a loop cable' into RESULTS.md.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

from tests.bench.results import write_section
from trainer.sound.click import Tap, click
from trainer.sound.device_port import DevicePort, open_port
from trainer.sound.process import undisturbed
from trainer.sound.stream import Wanted

RATE = 48000
NAME = f"steady{os.getpid()}"
PERIOD = 1024
LOOP = "loopback"
USUAL_S = 120.0
TEMPO_BPM = 132.7
AHEAD_S = 10.0
"""So much is always scheduled before it is due."""
BEHIND_S = 1.0
LIMIT_S = 20.0
"""So much longer than the clicks themselves the bench waits for them."""


@contextmanager
def jack_server(rate: int = RATE, period: int = PERIOD) -> Iterator[None]:
    """A private server with a loop cable and no card, known to this process's libraries."""
    if shutil.which("jackd") is None:
        raise SystemExit("This bench needs jackd: sudo apt install jackd2")
    with TemporaryDirectory(prefix="jk-", dir="/tmp") as folder:  # a socket's path must be short
        os.environ |= {
            "JACK_DEFAULT_SERVER": NAME,
            "JACK_NO_START_SERVER": "1",
            "XDG_RUNTIME_DIR": folder,
        }
        settings = ["-d", "dummy", "-r", str(rate), "-p", str(period), "-C", "1", "-P", "1"]
        with Path(folder, "log").open("w") as log:
            server = subprocess.Popen(
                ["jackd", "--no-realtime", "--sync", "-n", NAME, "-L", "1", *settings],
                stdout=log,
                stderr=log,
            )
        try:
            _wait_for_cable()
            yield
        finally:
            server.terminate()
            try:
                server.wait(timeout=5)
            except subprocess.TimeoutExpired:  # it may wait for its clients for ever
                server.kill()
                server.wait(timeout=5)


def _wait_for_cable() -> None:
    for _ in range(100):
        ports = subprocess.run(["jack_lsp"], capture_output=True, text=True, check=False).stdout
        if f"{LOOP}:capture_1" in ports:
            return
        time.sleep(0.1)
    raise SystemExit("jackd did not start.")


def places(first: int, seconds: float) -> NDArray[np.int64]:
    """Frames of the clicks, each rounded from its own exact time."""
    count = int(seconds * TEMPO_BPM / 60)
    return first + np.round(np.arange(count) * 60 * RATE / TEMPO_BPM).astype(np.int64)


def delays(port: DevicePort, seconds: float) -> NDArray[np.int64]:
    """How many frames after its place each click came back."""
    tap = click(Tap.BEAT, RATE)
    strongest = int(np.abs(tap).argmax())
    wanted = places(port.now_frame() + RATE, seconds)
    played, found, began_s = 0, np.zeros(wanted.size, np.int64), time.monotonic()
    for number, place in enumerate(wanted):
        ready = place + round(BEHIND_S * RATE)
        while port.heard_frame() < ready:
            ahead = port.now_frame() + round(AHEAD_S * RATE)
            while played < wanted.size and wanted[played] < ahead:
                port.play(tap, int(wanted[played]))
                played += 1
            if time.monotonic() - began_s > seconds + LIMIT_S:
                raise SystemExit(f"stood still at click {number}: {port.faults()}")
            time.sleep(0.001)
        sound = port.read(int(place), int(place) + RATE // 4)
        if np.abs(sound).max() < 0.5 * np.abs(tap).max():
            raise SystemExit(f"click {number} did not come back: {port.faults()}")
        found[number] = int(np.abs(sound).argmax()) - strongest
    return found


def main() -> None:
    """Play, find, write down."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else USUAL_S
    with jack_server(), closing(open_port(Wanted(LOOP, LOOP))) as port, undisturbed():
        found = delays(port, seconds)
        faults = len(port.faults())
    usual = int(np.median(found))
    wrong = int(np.count_nonzero(found != usual))
    text = (
        f"`python -m tests.bench.sample_exact`: {seconds:.0f} s of clicks at {TEMPO_BPM} bpm "
        f"over the loop cable of JACK's dummy driver, {PERIOD} frames a period; "
        f"{found.size} clicks came back, {wrong} of them elsewhere than {usual} samples after "
        f"their place; "
        f"{faults} faults of the stream recorded, load {os.getloadavg()[0]:.1f}."
    )
    print(text)
    write_section("Clicks over a loop cable", text)


if __name__ == "__main__":
    main()
