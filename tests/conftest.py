"""What every test may count on: Hypothesis and pilot without a clock, the `virtual_sound` fixture.

The fixture is a private sound server for tests that want the real stream.
"""

from __future__ import annotations

import os
import signal
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, settings
from textual.pilot import Pilot

# a busy machine is no fault of what is tested
WHOLE = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("whole", WHOLE)
settings.register_profile("quick", WHOLE, max_examples=25)


def pytest_configure(config: pytest.Config) -> None:
    """Where slow tests are left out, what is drawn at random is drawn less often."""
    settings.load_profile("quick" if "not slow" in config.getoption("-m") else "whole")


PATIENCE_S = 3600.0
"""What hangs is waited for no longer; the pilot's own half minute is soon over under load."""
Pilot._wait_for_screen.__defaults__ = (PATIENCE_S,)


# libyaml's reader, where it is there, reads the same as PyYAML's own, twenty times as fast
yaml.safe_load = partial(yaml.load, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))

ATTEMPTS = 3
MOST_WORK = 2.0
"""Sound can't be told to wait: with so many programs to each processor it breaks off."""


def _work_for_each_processor() -> float:
    """Programs that wanted to run in the last minute."""
    return os.getloadavg()[0] / (os.cpu_count() or 1)


def undisturbed(attempt: Callable[[], dict[str, Any]]) -> dict[str, Any]:
    """What an attempt at the real stream found whose port told no faults.

    A machine with more work than processors gives it cause again and again; then the test skips.
    On any other the last attempt is judged as it is.
    """
    for _ in range(ATTEMPTS):
        found = attempt()
        if not found["faults"]:
            return found
    if _work_for_each_processor() > 1:
        pytest.skip(f"too much else to do here for real sound: {found['faults'][0]}")
    return found


VIRTUAL_SOUND = Path(__file__).parent / "sound" / "virtual_sound.sh"
CANNOT = 77


@dataclass(frozen=True)
class VirtualSound:
    """A running server; programs started with its environment see its devices alone."""

    folder: Path
    environment: dict[str, str]
    """What a program needs to find it, on top of its own environment: `subprocess.run(env=…)`."""

    def feed(self, sound: Path) -> subprocess.Popen[bytes]:
        """Begin to play a sound file into the microphone of the device 'default'."""
        return subprocess.Popen(["paplay", "--device=micline", str(sound)], env=self.environment)

    def kill(self) -> None:
        """End the server at once, as when a device is torn out."""
        os.kill(self.process_id, signal.SIGKILL)

    def start_again(self) -> None:
        """Start it anew in the same place, as a system restarts its own."""
        subprocess.run(
            [VIRTUAL_SOUND, "start", self.folder], capture_output=True, timeout=300, check=True
        )

    @property
    def process_id(self) -> int:
        """The server's process."""
        return int((self.folder / "pid").read_text())


@pytest.fixture
def virtual_sound() -> Iterator[VirtualSound]:
    """A server of the test's own; skips, saying why, where it can't be had or kept in time."""
    if _work_for_each_processor() > MOST_WORK:
        pytest.skip("too much else to do here for real sound")
    with TemporaryDirectory(prefix="sound-", dir="/tmp") as name:  # a socket's path must be short
        folder = Path(name)
        started = subprocess.run(
            [VIRTUAL_SOUND, "start", folder], capture_output=True, text=True, timeout=300
        )
        if started.returncode == CANNOT:
            pytest.skip(started.stderr.strip())
        started.check_returncode()
        added = dict(line.split("=", 1) for line in started.stdout.splitlines())
        try:
            yield VirtualSound(folder, {**os.environ, **added})
        finally:
            subprocess.run([VIRTUAL_SOUND, "stop", folder], timeout=300)
