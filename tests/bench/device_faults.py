"""Device faults provoked on the virtual sound server while a student practises.

    python -m tests.bench.device_faults [NAME …]

For each fault: what the student is told, what of the round is kept, and how long it takes until
practice can go on. Writes 'Device faults' into RESULTS.md when all of them were run.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from queue import Empty, SimpleQueue
from threading import Thread
from typing import Any

import numpy as np
import soundfile
import yaml

from tests.bench.results import write_section
from tests.bench.sound_server import Server, sound_server
from trainer.app.open_session import open_session, planned_for, ticking
from trainer.app.paths import user_paths
from trainer.app.practice_ports import open_practice_port
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.routine.load import load_routine
from trainer.session.beginning import Beginning
from trainer.session.round_begins import RoundBegins
from trainer.sound.process import quiet_stderr

ROUTINE = """
title: Faults
exercises:
  - scale: hill
    key: D
    range: two octaves
    tempo: 84
    articulations: [single, slurred, single, slurred]
"""
LIMIT_S = 25.0
INTO_THE_ROUND_S = 2.5
ALSA_HALF = """
pcm.half {{ type pulse device {device} }}
pcm.!default {{ type asym {direction}.pcm half hint {{ show on description "Half" }} }}
ctl.!default {{ type pulse }}
"""


# The student, in a process of its own -------------------------------------------------------------


def student(folder: Path) -> None:
    """Practise, do what standard input says, and print a line whenever something changes."""
    (folder / "routine.yaml").write_text(ROUTINE)
    routine, problems = load_routine(folder / "routine.yaml")
    assert routine is not None, problems
    paths = user_paths({"TRAINER_HOME": str(folder / "home")})
    flutist = Flutist(Habits(), seed=3)

    def play_in(begins: RoundBegins) -> None:
        rate = port.sample_rate_hz
        played = flutist.play(begins.sounding, begins.round.tempo_bpm, begins.round.tuning, rate)
        wait_s = (begins.first_beat_frame - port.now_frame()) / rate - played.first_beat_s
        silence = np.zeros(max(0, round(wait_s * rate)), np.float32)
        soundfile.write(folder / "song.wav", np.concatenate([silence, played.samples]), rate)
        subprocess.Popen(
            ["paplay", "--device=micline", "--latency-msec=40", folder / "song.wav"],
            stderr=subprocess.DEVNULL,
        )

    port = open_practice_port(paths)
    with closing(port), quiet_stderr(paths.log_file):
        session = open_session(
            routine,
            planned_for(routine, date(2026, 3, 2), ()),
            port,
            paths,
            Beginning(now=lambda: datetime(2026, 3, 2, 12, tzinfo=UTC), round_begins=play_in),
        )
        orders: SimpleQueue[str] = SimpleQueue()

        def take_orders() -> None:
            for line in sys.stdin:
                orders.put(line.strip())
            orders.put("stop")

        Thread(target=take_orders, daemon=True).start()
        with ticking(session):
            _tell_changes(session, port, orders)


def _tell_changes(session: Any, port: Any, orders: SimpleQueue[str]) -> None:
    told: dict[str, Any] = {}
    while True:
        while not orders.empty():
            order = orders.get()
            if order == "stop":
                return
            session.advance()
        view = session.view()
        now = {
            "stage": str(view.stage),
            "alive": port.alive,
            "listens": view.listens,
            "name": port.name,
            "notices": list(view.notices),
            "advice": "" if view.advice is None else view.advice.sentence,
            "half_second": port.now_frame() * 2 // port.sample_rate_hz,
        }
        if now != told:
            told = now
            print(json.dumps({"at_s": time.monotonic(), **now}), flush=True)
        time.sleep(0.01)


# The bench ----------------------------------------------------------------------------------------


@dataclass
class Watched:
    """A student's process and everything it told."""

    process: subprocess.Popen[str]
    folder: Path
    events: list[dict[str, Any]] = field(default_factory=list)
    _lines: SimpleQueue[str] = field(default_factory=SimpleQueue)

    def listen(self) -> None:
        """Gather its lines in a thread."""
        out = self.process.stdout
        assert out is not None

        def gather() -> None:
            for line in out:
                self._lines.put(line)

        Thread(target=gather, daemon=True).start()

    def until(self, wanted: Callable[[dict[str, Any]], bool], limit_s: float = LIMIT_S) -> float:
        """Wait for an event; its time, or nan when it doesn't come."""
        deadline_s = time.monotonic() + limit_s
        while (left_s := deadline_s - time.monotonic()) > 0:
            try:
                event = json.loads(self._lines.get(timeout=left_s))
            except Empty:
                break
            self.events.append(event)
            if wanted(event):
                return float(event["at_s"])
        return float("nan")

    def advance(self) -> None:
        """Press the key."""
        assert self.process.stdin is not None
        self.process.stdin.write("advance\n")
        self.process.stdin.flush()

    def engine_pid(self) -> int:
        """The sound engine's process."""
        children = Path(f"/proc/{self.process.pid}/task").glob("*/children")
        pids = [pid for file in children for pid in file.read_text().split()]
        for pid in pids:
            if b"trainer.sound.engine" in Path(f"/proc/{pid}/cmdline").read_bytes():
                return int(pid)
        raise LookupError("engine")

    @property
    def notices(self) -> list[str]:
        """What the student was told."""
        return self.events[-1]["notices"] if self.events else []

    def journal(self) -> list[dict[str, Any]]:
        """The rounds on disk."""
        files = [*(self.folder / "home" / "journal").glob("*.yaml")]
        return [r for file in files for r in yaml.safe_load(file.read_text())["rounds"]]


Act = Callable[[Server, Watched], None]


@dataclass(frozen=True)
class Fault:
    """Something that goes wrong in a round, and how it is mended."""

    name: str
    words: str
    break_it: Act
    mend: Act | None = None
    for_s: float = 3.0
    goes_on: bool = False
    """The round goes on by itself: nothing is lost."""


def send(what: signal.Signals, *, to: str) -> Act:
    """Send a signal to the server, the student, the engine, or both of the latter."""

    def act(server: Server, watched: Watched) -> None:
        pids = {
            "server": lambda: [server.pid],
            "student": lambda: [watched.process.pid],
            "engine": lambda: [watched.engine_pid()],
            "both": lambda: [watched.engine_pid(), watched.process.pid],
        }[to]()
        for pid in pids:
            os.kill(pid, what)

    return act


def tell(*words: str) -> Act:
    """Have pactl do it."""
    return lambda server, _watched: server.tell(*words) and None


def unload(words: str) -> Act:
    """Unload the module whose line holds the words."""
    return lambda server, _: server.tell("unload-module", server.module_of(words)) and None


def restart(server: Server, _watched: Watched) -> None:
    """End the server and start it at once."""
    server.stop()
    server.start()


def other_default(*more: str) -> Act:
    """Plug in headphones: a new sink becomes the default, as desktops do."""

    def act(server: Server, _watched: Watched) -> None:
        server.tell("load-module", "module-null-sink", "sink_name=headphones", "norewinds=1", *more)
        server.tell("set-default-sink", "headphones")
        sinks = {line.split()[1]: line.split()[0] for line in _lines(server, "sinks")}
        for line in _lines(server, "sink-inputs"):
            if line.split()[1] == sinks["speakers"]:  # the flutist's own goes to the microphone
                server.tell("move-sink-input", line.split()[0], "headphones")

    return act


def _lines(server: Server, what: str) -> list[str]:
    return server.tell("list", "short", what).splitlines()


def start_server(server: Server, _watched: Watched) -> None:
    """Start it where it was."""
    server.start()


def overload(_server: Server, _watched: Watched) -> None:
    """Eight busy programs for three seconds."""
    busy = "import time\nend = time.monotonic() + 3\nwhile time.monotonic() < end: pass"
    programs = [subprocess.Popen([sys.executable, "-c", busy]) for _ in range(8)]
    for program in programs:
        program.wait()


STOP, CONT, KILL = signal.SIGSTOP, signal.SIGCONT, signal.SIGKILL
FAULTS = (
    Fault("server killed", "kill -9, back after 3 s", send(KILL, to="server"), start_server),
    Fault("server restarted", "ended and started at once", restart, for_s=0.0),
    Fault("server hangs", "stopped for 5 s", send(STOP, to="server"), send(CONT, to="server"), 5.0),
    Fault(
        "sink suspended",
        "suspend-sink, resumed after 3 s",
        tell("suspend-sink", "speakers", "1"),
        tell("suspend-sink", "speakers", "0"),
    ),
    Fault(
        "source suspended",
        "suspend-source, resumed after 3 s",
        tell("suspend-source", "mic", "1"),
        tell("suspend-source", "mic", "0"),
    ),
    Fault("loudspeaker unplugged", "its sink is unloaded", unload("sink_name=speakers")),
    Fault("microphone unplugged", "its source is unloaded", unload("source_name=mic")),
    Fault(
        "microphone muted",
        "set-source-mute, for 3 s",
        tell("set-source-mute", "mic", "1"),
        tell("set-source-mute", "mic", "0"),
        goes_on=True,
    ),
    Fault("microphone muted for good", "set-source-mute", tell("set-source-mute", "mic", "1")),
    Fault("headphones plugged in", "the default device changes", other_default(), goes_on=True),
    Fault(
        "headphones at another rate",
        "the default device changes, 44.1 kHz",
        other_default("rate=44100"),
        goes_on=True,
    ),
    Fault("engine dies", "kill -9", send(KILL, to="engine"), for_s=0.0),
    Fault(
        "engine held up",
        "stopped for 0.4 s",
        send(STOP, to="engine"),
        send(CONT, to="engine"),
        0.4,
        goes_on=True,
    ),
    Fault("trainer stopped", "for 3 s", send(STOP, to="student"), send(CONT, to="student")),
    Fault("machine sleeps", "both stopped for 3 s", send(STOP, to="both"), send(CONT, to="both")),
    Fault("machine overloaded", "8 busy programs for 3 s", overload, goes_on=True, for_s=0.0),
)
AT_THE_START = {
    "no sound server": "the trainer is started without one",
    "no microphone": "a device that only plays",
    "no loudspeaker": "a device that only listens",
    "server hangs at opening": "stopped before the trainer starts",
}


def begin(server: Server, folder: Path, environment: dict[str, str] | None = None) -> Watched:
    """Start a student."""
    folder.mkdir()
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.bench.device_faults", "student", str(folder)],
        env=environment or server.environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    watched = Watched(process, folder)
    watched.listen()
    return watched


def in_a_round(fault: Fault) -> dict[str, Any]:
    """Provoke a fault in the first round; what came of it."""
    with sound_server() as server:
        watched = begin(server, server.folder / "student")
        try:
            watched.until(lambda event: event["stage"] == "today")
            watched.advance()
            watched.until(lambda event: event["stage"] == "ready")
            watched.advance()
            watched.until(lambda event: event["stage"] == "playing")
            watched.until(lambda _: False, INTO_THE_ROUND_S)
            fault.break_it(server, watched)
            broken_s = time.monotonic()
            noticed_s = float("nan")
            if fault.for_s:
                noticed_s = watched.until(lambda event: bool(event["notices"]), fault.for_s)
                time.sleep(max(0.0, broken_s + fault.for_s - time.monotonic()))
            mended_s = time.monotonic()
            if fault.mend is not None:
                fault.mend(server, watched)
            if np.isnan(noticed_s):
                noticed_s = watched.until(lambda event: bool(event["notices"]), 4.0)
            back_s = watched.until(lambda event: event["alive"], 12.0)
            return _what_came(fault, watched, broken_s, noticed_s, mended_s, back_s)
        finally:
            _end(watched)


def _what_came(
    fault: Fault,
    watched: Watched,
    broken_s: float,
    noticed_s: float,
    mended_s: float,
    back_s: float,
) -> dict[str, Any]:
    watched.until(lambda _: False, 1.0)
    stage = watched.events[-1]["stage"] if watched.events else "?"
    if stage == "ready":
        watched.advance()
    played_s = watched.until(lambda event: event["stage"] == "after", 20.0)
    rounds = watched.journal()
    states = [[note.get("state", "played") for note in one.get("notes", ())] for one in rounds]
    return {
        "fault": fault.name,
        "how": fault.words,
        "notices": watched.notices,
        "advice": next((e["advice"] for e in watched.events if e["advice"]), ""),
        "noticed_s": noticed_s - broken_s,
        "back_s": max(0.0, back_s - mended_s),
        "went_on": not np.isnan(played_s),
        "rounds": [f"{one.count('played')} of {len(one)}" for one in states],
        "missed": sum(one.count("missed") for one in states),
        "name": watched.events[-1]["name"],
    }


def at_the_start(name: str) -> dict[str, Any]:
    """Start the trainer where something is wrong already."""
    with sound_server() as server:
        environment = dict(server.environment)
        config = server.folder / "half.conf"
        match name:
            case "no sound server":
                server.stop()
            case "server hangs at opening":
                os.kill(server.pid, STOP)
            case "no microphone":
                config.write_text(ALSA_HALF.format(direction="playback", device="speakers"))
                environment["ALSA_CONFIG_PATH"] = str(config)
            case "no loudspeaker":
                config.write_text(ALSA_HALF.format(direction="capture", device="mic"))
                environment["ALSA_CONFIG_PATH"] = str(config)
        started_s = time.monotonic()
        watched = begin(server, server.folder / "student", environment)
        try:
            opened_s = watched.until(lambda event: event["stage"] == "today")
            watched.until(lambda event: bool(event["notices"]), 10.0)
            told = watched.notices
            watched.advance()
            watched.until(lambda event: event["stage"] == "ready")
            watched.advance()
            went_on_s = watched.until(lambda event: event["stage"] == "playing", 10.0)
            came_s = float("nan")
            if name == "no sound server":
                server.start()
                mended_s = time.monotonic()
                came_s = watched.until(lambda event: event["name"] == "default", 40.0) - mended_s
            elif name == "server hangs at opening":
                os.kill(server.pid, CONT)
                mended_s = time.monotonic()
                came_s = watched.until(lambda event: event["name"] == "default", 40.0) - mended_s
            return {
                "fault": name,
                "how": AT_THE_START[name],
                "notices": watched.notices or told,
                "noticed_s": opened_s - started_s,
                "back_s": came_s,
                "went_on": not np.isnan(went_on_s),
                "rounds": [],
                "missed": 0,
                "name": watched.events[-1]["name"],
            }
        finally:
            if name == "server hangs at opening":
                os.kill(server.pid, CONT)
            _end(watched)


def _end(watched: Watched) -> None:
    watched.process.kill()
    watched.process.wait(timeout=20)


def section(found: list[dict[str, Any]]) -> str:
    """The table."""
    lines = [
        "`python -m tests.bench.device_faults`: virtual sound server (PulseAudio through ALSA), "
        f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the end. "
        "A played-in flutist plays at the microphone; each fault comes "
        f"{INTO_THE_ROUND_S} s into the first round, or stands at the start. 'Noticed' is from the "
        "fault to the words (at the start: until the first screen); 'back' from its mending to a "
        "running stream. 'Kept': notes heard of all in each round on disk.",
        "",
        "| fault | noticed | back | goes on | kept | called missed | what the student sees |",
        "|---|---:|---:|---|---|---:|---|",
    ]
    for one in found:
        lines.append(
            f"| {one['fault']} ({one['how']}) | {_s(one['noticed_s'])} | {_back(one)} | "
            f"{'yes' if one['went_on'] else 'NO'} | {', '.join(one['rounds']) or '–'} | "
            f"{one['missed']} | {_said(one)} |"
        )
    return "\n".join(lines)


def _said(one: dict[str, Any]) -> str:
    """The notices; where there was none, what the advice said of the sound, if it did."""
    if one["notices"]:
        return " / ".join(one["notices"])
    advice = one.get("advice", "")
    return advice if "microphone" in advice else "nothing: nothing was lost"


def _back(one: dict[str, Any]) -> str:
    """Nothing comes back where nothing was noticed to be gone."""
    return "–" if np.isnan(one["noticed_s"]) else _s(one["back_s"])


def _s(seconds: float) -> str:
    return "–" if np.isnan(seconds) else f"{seconds:.1f} s"


def main(names: list[str]) -> None:
    """Provoke the faults, one after the other."""
    chosen = [fault for fault in FAULTS if not names or fault.name in names]
    found = [_told(in_a_round(fault)) for fault in chosen]
    found += [_told(at_the_start(name)) for name in AT_THE_START if not names or name in names]
    if not names:
        write_section("Device faults", section(found))


def _told(result: dict[str, Any]) -> dict[str, Any]:
    print(json.dumps(result), flush=True)
    return result


if __name__ == "__main__":
    if sys.argv[1:2] == ["student"]:
        student(Path(sys.argv[2]))
    else:
        main(sys.argv[1:])
