"""The real screen with sound running, ended at random moments: what stays behind?

    python -m tests.bench.kills [--kill N] [--term N] [--hup N] [--quit N] [--minutes M] [--seed S]

Each time the trainer practises in a terminal of its own (a pty) against a private sound server
(`tests/sound/virtual_sound.sh`), with its microphone open; somebody presses the page-turn pedal now
and then. After the signal there must be: no process of its session, no new file in /dev/shm, no
session file that can't be read, no round that was on disk before and is not now; and, but for KILL,
an `ended:` line, a terminal as it was, no mode of the terminal's left on. Prints a line of counts;
the exit status is 1 where anything was found.
"""

from __future__ import annotations

import argparse
import fcntl
import os
import pty
import random
import re
import select
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import termios
import time
from collections import Counter
from itertools import chain, repeat
from pathlib import Path

from trainer.journal.read import read_sessions

PROJECT = Path(__file__).parents[2]
SHARED = Path("/dev/shm")
SCRIPT = PROJECT / "tests" / "sound" / "virtual_sound.sh"
LONGEST_S = 60.0
"""For a start on a busy machine, and for an end."""
AFTER_START_S = (0.0, 40.0)
"""When the signal comes, from the first picture on: between Today and the third round."""
PEDAL_S = (0.5, 1.5, 1.5, 8.0)
"""Before each pressing: past Today and the look at the microphone, then once a round."""
PEDAL = b"\x1b[6~"
MODES = re.compile(rb"\x1b\[\?([0-9;]+)([hl])")
MAY_STAY_ON = {b"25", b"7"}
"""DECTCEM and DECAWM: a cursor that shows, lines that wrap."""
ROUTINE = """\
title: Short
exercises:
- scale: a
  key: C major
  range: one octave
  tempo: 200
  articulations: [slurred, legato tongue, double, triple]
"""
READY_MADE = "note names: English\n"
"""A setting, so that it is not the first morning."""


def main() -> int:
    """End it so many times; 0 where nothing stayed behind."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    for name in ("kill", "term", "hup", "quit"):
        parser.add_argument(f"--{name}", type=int, default=0)
    parser.add_argument("--minutes", type=float, default=600.0)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    lucky = random.Random(options.seed)
    asked = [
        name for name in ("kill", "term", "hup", "quit") for _ in range(getattr(options, name))
    ]
    lucky.shuffle(asked)
    done, found, rounds = Counter[str](), Counter[str](), 0
    over_s = time.monotonic() + 60 * options.minutes
    sound = Path(tempfile.mkdtemp(prefix="snd"))
    said = subprocess.run([SCRIPT, "start", sound], capture_output=True, text=True, check=True)
    environment = dict(line.split("=", 1) for line in said.stdout.splitlines())
    try:
        for name in asked:
            if time.monotonic() > over_s:
                break
            faults, played = ended_once(name, lucky.uniform(*AFTER_START_S), environment)
            done[name] += 1
            rounds += played
            found.update(faults)
            for fault in faults:
                print(f"{name}: {fault}", flush=True)
    finally:
        subprocess.run([SCRIPT, "stop", sound], check=False)
        shutil.rmtree(sound, ignore_errors=True)
    print(f"{dict(done)}; {rounds} rounds on disk; found: {dict(found)}")
    return 1 if found else 0


def ended_once(name: str, after_s: float, environment: dict[str, str]) -> tuple[list[str], int]:
    """What stayed behind after one end, and how many rounds were on disk."""
    home = Path(tempfile.mkdtemp(prefix="kill"))
    (home / "config.yaml").write_text(READY_MADE)
    (home / "short.yaml").write_text(ROUTINE)
    before = set(SHARED.iterdir())
    terminal, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 120, 0, 0))
    attributes = termios.tcgetattr(slave)
    program = subprocess.Popen(
        [sys.executable, "-m", "trainer", "practise", "--routine", str(home / "short.yaml")],
        stdin=slave, stdout=slave, stderr=slave, cwd=PROJECT, start_new_session=True,
        env={**os.environ, **environment, "TRAINER_HOME": str(home), "TERM": "xterm-256color"},
    )  # fmt: skip
    written = b""
    try:
        written += until(terminal, lambda seen: b"Short" in seen)
        deadline_s = time.monotonic() + after_s
        pauses_s = chain(PEDAL_S, repeat(PEDAL_S[-1]))
        while (left_s := deadline_s - time.monotonic()) > 0:
            written += read_for(terminal, min(next(pauses_s), left_s))
            os.write(terminal, PEDAL)
        on_disk = rounds_in(home)
        began_s = time.monotonic()
        program.send_signal(getattr(signal, f"SIG{name.upper()}"))
        while program.poll() is None and time.monotonic() - began_s < LONGEST_S:
            written += read_for(terminal, 0.05)
        written += read_for(terminal, 0.3)
        faults = left_behind(program, before, home, on_disk)
        if name != "kill":
            faults += terminal_faults(written, termios.tcgetattr(slave)[3] == attributes[3])
            if program.returncode != 0:
                faults.append(f"exit status {program.returncode}")
            if on_disk and not all("\nended: " in file.read_text() for file in sessions(home)):
                faults.append("no end written")
        return faults, on_disk
    finally:
        if program.poll() is None:
            program.kill()
            program.wait()
        os.close(terminal)
        os.close(slave)
        shutil.rmtree(home, ignore_errors=True)


def left_behind(
    program: subprocess.Popen[bytes], before: set[Path], home: Path, on_disk: int
) -> list[str]:
    """Processes, files and rounds."""
    faults = []
    if program.poll() is None:
        faults.append("it goes on")
    deadline_s = time.monotonic() + 10.0
    while (alive := of_session(program.pid)) and time.monotonic() < deadline_s:
        time.sleep(0.05)
    if alive:
        faults.append(f"the engine goes on: {alive}")
        for pid in alive:
            os.kill(pid, signal.SIGKILL)
    new = {path.name for path in set(SHARED.iterdir()) - before if "trainer" in path.name}
    if new:
        faults.append(f"in /dev/shm: {sorted(new)}")
    logs, problems = read_sessions(home / "journal")
    if problems:
        faults.append(f"can't be read: {problems[0]}")
    if sum(len(log.rounds) for log in logs) < on_disk:
        faults.append("rounds lost")
    return faults


def terminal_faults(written: bytes, as_before: bool) -> list[str]:
    """What of the terminal was not put back."""
    modes = {one: how for many, how in MODES.findall(written) for one in many.split(b";")}
    on = {mode for mode, how in modes.items() if how == b"h"} - MAY_STAY_ON
    faults = [f"modes left on: {sorted(on)}"] if on else []
    return faults if as_before else [*faults, "the terminal's settings are not as they were"]


def of_session(leader: int) -> list[int]:
    """The processes of a session that still run, the leader's own too."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            state, _, _, session = (place / "stat").read_text().rpartition(")")[2].split()[:4]
        except (OSError, ValueError):
            continue
        if int(session) == leader and state != "Z":
            found.append(int(place.name))
    return found


def sessions(home: Path) -> list[Path]:
    """The session files."""
    return sorted((home / "journal").glob("*.yaml"))


def rounds_in(home: Path) -> int:
    """How many rounds are on disk now."""
    return sum(len(log.rounds) for log in read_sessions(home / "journal")[0])


def until(terminal: int, seen: object) -> bytes:
    """What is written until something is seen. Raises SystemExit where it isn't in time."""
    assert callable(seen)
    written, deadline_s = b"", time.monotonic() + LONGEST_S
    while not seen(written):
        if time.monotonic() > deadline_s:
            raise SystemExit(f"nothing to see: {written[-2000:]!r}")
        written += read_for(terminal, 0.05)
    return written


def read_for(terminal: int, seconds: float) -> bytes:
    """What is written to the terminal meanwhile."""
    written, deadline_s = b"", time.monotonic() + seconds
    while (left_s := deadline_s - time.monotonic()) > 0:
        if select.select([terminal], [], [], left_s)[0]:
            written += os.read(terminal, 65536)
    return written


if __name__ == "__main__":
    sys.exit(main())
