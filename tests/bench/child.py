"""A command run in a process of its own, with what it cost.

    python -m tests.bench.child WORDS …    runs `trainer` with these words and prints its cost

A process begins with its parent's peak of memory (Linux, getrusage(2): it outlives exec), so a
small one stands between the bench and the command.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields


@dataclass(frozen=True)
class Cost:
    """What a process took."""

    wall_s: float
    processor_s: float
    peak_mb: float


def cost_of(words: Sequence[object], home: str) -> Cost:
    """The cost of `trainer` with these words; raises where it fails."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.child", *map(str, words)],
        env={**os.environ, "TRAINER_HOME": home},
        stdout=subprocess.PIPE,
        check=True,
    )
    return Cost(**json.loads(done.stdout))


def typical(costs: Sequence[Cost]) -> Cost:
    """The middle value of each figure."""
    middle = len(costs) // 2
    return Cost(*(sorted(getattr(c, f.name) for c in costs)[middle] for f in fields(Cost)))


def _run(words: Sequence[str]) -> Cost:
    begun = time.perf_counter()
    child = subprocess.Popen([sys.executable, "-m", "trainer", *words], stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    wall_s = time.perf_counter() - begun
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise SystemExit(f"trainer {words} ended with {child.returncode}")
    return Cost(wall_s, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)


if __name__ == "__main__":
    print(json.dumps(asdict(_run(sys.argv[1:]))))
