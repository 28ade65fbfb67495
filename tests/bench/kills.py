"""The real screen with sound running, ended at random moments: what stays behind?

    python -m tests.bench.kills [--kill N] [--term N] [--hup N] [--quit N] [--minutes M] [--seed S]

Each time the trainer practises in a terminal of its own (a pty) against a private sound server
(`tests/sound/virtual_sound.sh`), with its microphone open; somebody presses the page-turn pedal now
and then. It is forked from a process that has loaded the program, which spares its start most of a
second; its sound engine is started anew, as always. Several practices share a folder, so that what
was played before is at stake too. After the signal there must be: no process of its session, no new
file in /dev/shm, no session file that can't be read, no round that was on disk before and is not
now; and, but for KILL, an `ended:` line, a terminal as it was, no mode of the terminal's left on.
Prints lines of counts; the exit status is 1 where anything was found.
"""

from __future__ import annotations

import argparse
import fcntl
import gc
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import termios
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import NoReturn

from tests.own_terminal import PAGE_DOWN, OwnTerminal, routine_in
from trainer import cli
from trainer.journal.read import read_sessions

SHARED = Path("/dev/shm")
SCRIPT = Path(__file__).parents[1] / "sound" / "virtual_sound.sh"
LONGEST_S = 60.0
"""For a start on a busy machine, and for an end."""
AFTER_START_S = (0.0, 15.0)
"""When the signal comes, from the first picture on: between Today and the third round."""
PEDAL_S = 0.7
"""Before each pressing: past Today, the look at the microphone, and what is said of a round."""
FOLDER_SERVES = 20
"""Practices in one folder; reading what many have left there would be the dearest part."""
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
    for name in ("term", "hup", "quit"):  # a shell lets what runs behind it ignore some of them
        signal.signal(getattr(signal, f"SIG{name.upper()}"), signal.SIG_DFL)
    load_the_program()
    done, found, rounds = Counter[str](), Counter[str](), 0
    over_s = time.monotonic() + 60 * options.minutes
    sound = Path(tempfile.mkdtemp(prefix="snd"))
    said = subprocess.run([SCRIPT, "start", sound], capture_output=True, text=True, check=True)
    os.environ |= dict(line.split("=", 1) for line in said.stdout.splitlines())
    try:
        for names in batched(asked, FOLDER_SERVES):
            with tempfile.TemporaryDirectory(prefix="kill") as folder:
                home = Path(folder)
                os.environ |= {"TRAINER_HOME": folder, "TERM": "xterm-256color"}
                (home / "config.yaml").write_text(READY_MADE)
                for name in names:
                    if time.monotonic() > over_s:
                        break
                    faults = ended_once(name, lucky.uniform(*AFTER_START_S), home)
                    done[name] += 1
                    found.update(faults)
                    for fault in faults:
                        print(f"{name}: {fault}", flush=True)
                rounds += rounds_in(home)
                print(f"{dict(done)}; {rounds} rounds on disk; found: {dict(found)}", flush=True)
    finally:
        subprocess.run([SCRIPT, "stop", sound], check=False)
        shutil.rmtree(sound, ignore_errors=True)
    return 1 if found else 0


def batched(names: list[str], size: int) -> Iterator[list[str]]:
    """The names, so many at a time."""
    for first in range(0, len(names), size):
        yield names[first : first + size]


def load_the_program() -> None:
    """Everything practice needs, once."""
    import trainer.app.begun_walk
    import trainer.app.practice_ready
    import trainer.commands.practise_today
    import trainer.screens.app
    import trainer.session.walk  # noqa: F401

    gc.freeze()


def forked(terminal: OwnTerminal, routine: Path) -> int:
    """The trainer, practising in this terminal; its process."""
    sys.stdout.flush()
    program = os.fork()
    if not program:
        practise(terminal, routine)
    return program


def practise(terminal: OwnTerminal, routine: Path) -> NoReturn:
    """Be the trainer, started in a terminal: its session's leader, with nothing else open."""
    status = 99
    try:
        os.setsid()
        fcntl.ioctl(terminal.slave, termios.TIOCSCTTY, 0)
        for descriptor in range(3):
            os.dup2(terminal.slave, descriptor)
        os.closerange(3, 256)
        status = cli.main(["practise", "--routine", str(routine)])
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(status)


def ended_once(name: str, after_s: float, home: Path) -> list[str]:
    """What stayed behind after one end."""
    before = set(SHARED.iterdir())
    old = set(sessions(home))
    terminal = OwnTerminal(lines=24, columns=80)
    program = forked(terminal, routine_in(home))
    status: int | None = None
    try:
        terminal.read_until(lambda: terminal.shows_today, LONGEST_S)
        deadline_s = time.monotonic() + after_s
        while (left_s := deadline_s - time.monotonic()) > 0:
            terminal.read_for(min(PEDAL_S, left_s))
            terminal.press(PAGE_DOWN)
        on_disk = rounds_in(home)
        os.kill(program, getattr(signal, f"SIG{name.upper()}"))
        limit_s = time.monotonic() + LONGEST_S
        while status is None and time.monotonic() < limit_s:
            terminal.read_for(0.05)
            ended, code = os.waitpid(program, os.WNOHANG)
            status = os.waitstatus_to_exitcode(code) if ended else None
        terminal.read_for(0.2)
        faults = left_behind(program, before, home, on_disk)
        if status is None:
            faults.append("it goes on")
        elif name != "kill":
            faults += [f"modes left on: {terminal.modes_left_on}"] if terminal.modes_left_on else []
            faults += [] if terminal.settings_as_before else ["the terminal's settings changed"]
            faults += [f"exit status {status}"] if status else []
            new = [file.read_text() for file in sessions(home) if file not in old]
            faults += [] if all("\nended: " in text for text in new) else ["no end written"]
        return faults
    except TimeoutError as nothing:
        return [f"nothing to see: {nothing}"]
    finally:
        if status is None:
            os.kill(program, signal.SIGKILL)
            os.waitpid(program, 0)
        terminal.close()


def left_behind(program: int, before: set[Path], home: Path, on_disk: int) -> list[str]:
    """Processes, files and rounds."""
    faults = []
    deadline_s = time.monotonic() + 10.0
    while (alive := of_session(program)) and time.monotonic() < deadline_s:
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


if __name__ == "__main__":
    sys.exit(main())
