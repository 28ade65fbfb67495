"""The virtual sound server for the benches."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import soundfile

HUM_S, HUM, RATE = 150, 1e-4, 48000
SCRIPT = Path(__file__).parents[1] / "sound" / "virtual_sound.sh"


@dataclass(frozen=True)
class Server:
    """A private sound server that a bench may maltreat."""

    folder: Path
    environment: dict[str, str]

    @property
    def pid(self) -> int:
        """The server's process."""
        return int((self.folder / "pid").read_text())

    def start(self) -> None:
        """Start it again in the same place."""
        subprocess.run([SCRIPT, "start", self.folder], capture_output=True, check=True, timeout=60)
        self.hum()

    def hum(self) -> None:
        """Let the microphone hear a quiet room: none is silent to the last digit."""
        file = self.folder / "room.wav"
        if not file.exists():
            noise = np.random.default_rng(1).standard_normal(HUM_S * RATE) * HUM
            soundfile.write(file, noise.astype(np.float32), RATE, subtype="FLOAT")
        subprocess.Popen(
            ["paplay", "--device=micline", file],
            env=self.environment,
            stderr=subprocess.DEVNULL,
        )

    def stop(self) -> None:
        """End it in an orderly way."""
        subprocess.run([SCRIPT, "stop", self.folder], check=True, timeout=60)

    def tell(self, *words: str) -> str:
        """Have pactl do something."""
        return subprocess.run(
            ["pactl", *words],
            env=self.environment,
            capture_output=True,
            text=True,
            check=True,
            timeout=20,
        ).stdout

    def module_of(self, words: str) -> str:
        """The number of the module whose line holds these words."""
        for line in self.tell("list", "short", "modules").splitlines():
            if words in line:
                return line.split()[0]
        raise LookupError(words)


@contextmanager
def sound_server() -> Iterator[Server]:
    """A server of one's own, ended afterwards."""
    with TemporaryDirectory(prefix="snd-", dir="/tmp") as name:  # a socket's path must be short
        folder = Path(name)
        started = subprocess.run(
            [SCRIPT, "start", folder], capture_output=True, text=True, timeout=300
        )
        if started.returncode:
            raise SystemExit(started.stderr.strip())
        added = dict(line.split("=", 1) for line in started.stdout.splitlines())
        try:
            server = Server(folder, {**os.environ, **added})
            server.hum()
            yield server
        finally:
            subprocess.run([SCRIPT, "stop", folder], timeout=30)
