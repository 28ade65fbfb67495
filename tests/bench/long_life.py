"""Many rounds in one session, hurried: does what the program holds grow with them?

    python -m tests.bench.long_life [ROUNDS]

A session on the port without a device, whose clock is moved; a played-in flutist plays every round,
the ear hears it, the journal keeps it. The rounds are spread over eight hours of that clock; after
each one the trainer waits with open devices, as behind a page that is read. Printed every so many
rounds: memory in use, open files, threads, and processor time a round. The exit status is 1 where,
from a tenth of the way on, files or threads grew at all, or memory by more than GROWS_KB a round.
"""

from __future__ import annotations

import gc
import math
import os
import sys
import tempfile
import threading
import time
from datetime import UTC, date, datetime
from pathlib import Path

from trainer.app.open_session import open_session, planned_for
from trainer.app.paths import user_paths
from trainer.app.simulated_flutist import SimulatedFlutist
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.routine.load import load_routine
from trainer.session.beginning import Beginning
from trainer.session.view import Stage
from trainer.sound.simulated import SimulatedPort

ROUNDS = 500
EXERCISES = 25
"""They share the rounds; one has at most 40."""
MOST_PLANNED = 250
"""No routine has many more on one day: what is above that plays the same exercises again."""
LOOKS = 10
GROWS_KB = 40.0
"""A round's log with its notes, and its text for the journal, take less."""
HOURS = 8.0
"""A day with the trainer open."""
TICK_S = 0.05
WAITING_TICK_S = 0.5
"""Where nothing is played, time is moved on in larger steps."""
RATE_HZ = 22050
"""Sound at half the usual rate is heard in half the time."""
EXERCISE = """\
- passage: p{number}
  notes: quarter G4 A4 B4 C5
  tempo: 208
  rounds: {rounds}
"""


def main() -> int:
    """Play the rounds; 0 where nothing grew."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    with tempfile.TemporaryDirectory(prefix="life") as folder:
        seen = [look for look in played(Path(folder), rounds) if look[0] >= rounds // LOOKS]
    (first_count, first_mb, *first), (count, mb, *last) = seen[0], seen[-1]
    assert count == rounds, f"the session ended after {count} rounds"
    grown_kb = 1000 * (mb - first_mb) / max(1, count - first_count)
    print(f"{grown_kb:.1f} kB a round")
    return 1 if grown_kb > GROWS_KB or any(b > a for a, b in zip(first, last, strict=True)) else 0


def played(home: Path, rounds: int) -> list[tuple[int, float, int, int]]:
    """Rounds so far, memory in MB, open files and threads, every so many rounds."""
    times = math.ceil(rounds / MOST_PLANNED)
    exercises = min(EXERCISES, rounds)
    (home / "r.yaml").write_text(
        "title: Long\nexercises:\n"
        + "".join(
            EXERCISE.format(number=number, rounds=math.ceil(rounds / exercises / times))
            for number in range(exercises)
        )
    )
    routine, problems = load_routine(home / "r.yaml")
    assert routine is not None, problems
    port = SimulatedPort(RATE_HZ, memory_s=60.0)
    flutist = SimulatedFlutist(Flutist(Habits(), seed=4), port)
    session = open_session(
        routine,
        planned_for(routine, date(2026, 3, 2), ()) * times,
        port,
        user_paths({"TRAINER_HOME": str(home)}),
        Beginning(now=lambda: datetime.now(UTC), round_begins=flutist.round_begins, pause_s=0.1),
    )
    session.advance()
    seen, done, stage, began_s = [], 0, Stage.TODAY, time.process_time()
    while done < rounds and stage is not Stage.ENDED:
        port.advance(round(TICK_S * RATE_HZ))
        session.tick()
        before, stage = stage, session.view().stage
        if stage is Stage.READY or stage is Stage.READING:
            session.advance()
        if stage is Stage.AFTER and before is not Stage.AFTER:
            done += 1
            session.hold(True)
            waits_until = HOURS * 3600 * RATE_HZ * done / rounds
            while port.now_frame() < waits_until:
                port.advance(round(WAITING_TICK_S * RATE_HZ))
                session.tick()
            session.hold(False)
            if done % max(1, rounds // LOOKS) == 0:
                gc.collect()
                look = (
                    done,
                    memory_mb(),
                    len(list(Path("/proc/self/fd").iterdir())),
                    threading.active_count(),
                )
                each_s = (time.process_time() - began_s) / done
                hours = port.now_frame() / RATE_HZ / 3600
                print(f"{hours:.1f} h, {look[0]} rounds: {look[1]:.0f} MB, {look[2]} files, "
                      f"{look[3]} threads, {each_s:.2f} s of processor time each",
                      flush=True)  # fmt: skip
                seen.append(look)
    session.end()
    session.tick()
    return seen


def memory_mb() -> float:
    """In use now (Linux, proc(5): the second figure of statm)."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


if __name__ == "__main__":
    sys.exit(main())
