"""Is the sound steady while the screen draws? The engine inside the program, and beside it.

    python -m tests.bench.steady_sound engines          the two side by side, 40 s each
    python -m tests.bench.steady_sound long [SECONDS]   one long practice (ten minutes)
    python -m tests.bench.steady_sound hour             an hour on the simulated port

Practice is the real one: session, ear and screen on a 120×40 terminal, the screen asked to repaint
whole 60 times a second, the played-in flutist at the microphone. The device `loop` of the virtual
sound server brings back every sample that was played. Writes its sections into RESULTS.md.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path
from queue import SimpleQueue
from typing import Any

import numpy as np

from tests.bench.results import write_section
from tests.bench.sound_server import sound_server
from tests.bench.terminal import in_terminal
from trainer.app.open_session import open_session, planned_for, ticking
from trainer.app.paths import user_paths
from trainer.app.simulated_flutist import SimulatedFlutist
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.routine.load import load_routine
from trainer.session.beginning import Beginning
from trainer.session.session import Session
from trainer.session.view import Stage
from trainer.sound.board import shared_board
from trainer.sound.device_port import DevicePort, watch
from trainer.sound.engine import Answer, Engine, Order, RunningEngine, serve
from trainer.sound.latency_watch import Click, heard_clicks
from trainer.sound.port import Samples
from trainer.sound.process import quiet_stderr, undisturbed
from trainer.sound.simulated import SimulatedPort
from trainer.sound.stream import Wanted
from trainer.sound.sung import SungPort

THIS = (sys.executable, "-m", "tests.bench.steady_sound")
SIDE_BY_SIDE_S = 40.0
LONG_S = 600.0
REPAINTS_PER_S = 60
TAP_S = 0.1
LOOK_EVERY_S = 5.0
PAUSE_S = 2.0
RATE = 48000
EXERCISE = """  - scale: hill {number}
    key: {key}
    range: full
    tempo: {tempo}
    articulations: [single, slurred, double, legato tongue]
"""
KEYS = ("C", "G", "D", "A", "F", "Bb", "Eb", "E", "Ab", "B", "Db", "F#")


class Inside:
    """An engine in a thread of this very process."""

    def __init__(self, wanted: Wanted, board_memory: int, _log_path: Path | None) -> None:
        self._orders: SimpleQueue[Order | None] = SimpleQueue()
        self._answers: SimpleQueue[Answer] = SimpleQueue()
        board = shared_board(board_memory)

        def keep() -> None:
            stream = serve(wanted, board, None, self._orders.get, self._answers.put)
            for part in () if stream is None else stream.streams:
                part.abort()
                part.close()

        self._thread = threading.Thread(target=keep, daemon=True)
        self._thread.start()
        self.tell = self._orders.put

    def answer(self, limit_s: float) -> Answer:
        """What came of it."""
        return self._answers.get(timeout=limit_s)

    def running(self) -> bool:
        """As long as the thread is."""
        return self._thread.is_alive()

    def end(self) -> None:
        """Let it stop."""
        self._orders.put(None)
        self._thread.join(5.0)


class LoggedPort(SungPort):
    """Remembers the clicks that were played."""

    def __init__(self, device: DevicePort) -> None:
        super().__init__(device)
        self.clicks: list[Click] = []

    def play(self, sound: Samples, at_frame: int) -> None:
        if sound.size < TAP_S * RATE:
            self.clicks.append((at_frame, sound))
        super().play(sound, at_frame)

    def hush(self, from_frame: int) -> None:
        self.clicks = [click for click in self.clicks if click[0] < from_frame]
        super().hush(from_frame)


# Practice, in a process and a terminal of its own -------------------------------------------------


def practice(folder: Path, kind: str, seconds: float) -> None:
    """Practise for so long; what happened goes into a file."""
    from trainer.screens.app import TrainerApp

    class Busy(TrainerApp):
        CSS_PATH = Path(sys.modules[TrainerApp.__module__].__file__ or "").with_name(
            str(TrainerApp.CSS_PATH)
        )

        def on_mount(self) -> None:
            write = self._driver.write

            def counted(data: str) -> None:
                painted.append(len(data))
                write(data)

            self._driver.write = counted
            self.set_interval(1 / REPAINTS_PER_S, self.repaint)

        def repaint(self) -> None:
            for widget in self.screen.walk_children():
                widget.refresh()

    routine_file = folder / "routine.yaml"
    routine_file.write_text(
        "title: Steady\nexercises:\n"
        + "".join(EXERCISE.format(key=key, tempo=88 + n, number=n) for n, key in enumerate(KEYS))
    )
    routine, problems = load_routine(routine_file)
    assert routine is not None, problems
    paths = user_paths({"TRAINER_HOME": str(folder / "home")})
    launched: list[int] = []
    painted: list[int] = []

    def launch(*arguments: Any) -> RunningEngine:
        launched.append(0)
        return (Engine if kind == "engine" else Inside)(*arguments)

    device = DevicePort(Wanted("loop", "loop"), log_path=paths.log_file, launch=launch)
    device.start()
    threading.Thread(target=watch, args=(device,), daemon=True).start()
    port = LoggedPort(device)
    found: dict[str, Any] = {}
    begun_s = time.monotonic()
    with quiet_stderr(paths.log_file), closing(port), undisturbed():
        session = open_session(
            routine,
            planned_for(routine, date(2026, 3, 2), ()),
            port,
            paths,
            Beginning(
                now=lambda: datetime(2026, 3, 2, 12, tzinfo=UTC),
                pause_s=PAUSE_S,
                round_begins=SimulatedFlutist(Flutist(Habits(), seed=11), port).round_begins,
            ),
        )
        app = Busy(session, lambda: "")
        student = threading.Thread(
            target=_practise,
            args=(session, port, device, seconds, found, launched, app),
            daemon=True,
        )
        with ticking(session):
            student.start()
            app.run()
    found["paints_per_s"] = len(painted) / (time.monotonic() - begun_s)
    (folder / "found.json").write_text(json.dumps(found))


def _practise(
    session: Session,
    port: LoggedPort,
    device: DevicePort,
    seconds: float,
    found: dict[str, Any],
    launched: list[int],
    app: Any,
) -> None:
    time.sleep(4.0)
    late: list[tuple[int, float]] = []
    missing = looked = rounds = 0
    cpu_s, begun_s = _cpu_s(device), time.monotonic()
    next_look_s = begun_s + LOOK_EVERY_S
    stage = session.view().stage
    while time.monotonic() < begun_s + seconds:
        if session.view().stage in (Stage.TODAY, Stage.READY, Stage.READING):
            session.advance()
        if session.view().stage is not stage:
            stage = session.view().stage
            rounds += stage is Stage.AFTER
        if time.monotonic() > next_look_s:
            next_look_s += LOOK_EVERY_S
            until = device.heard_frame() - RATE
            due = [click for click in port.clicks if click[0] < until][looked:]
            if len(due) > 1:
                heard = heard_clicks(device, due)
                late += [(len(launched), at) for _, at in heard]
                missing += len(due) - len(heard)
                looked += len(due)
        time.sleep(0.05)
    wall_s = time.monotonic() - begun_s
    found.update(
        cpu_share=(_cpu_s(device) - cpu_s) / wall_s,
        gap_ms=1000 * device.longest_gap_s,
        faults=[fault.what for fault in device.faults() if fault.lost],
        clicks=looked,
        missing=missing,
        jitter=_jitter(late),
        late=[(start, round(at, 1)) for start, at in late],
        restarts=len(launched) - 1,
        rounds=rounds,
        seconds=wall_s,
    )
    app.call_from_thread(app.exit)


def _jitter(late: list[tuple[int, float]]) -> float:
    """Largest difference between two clicks of one stream, in whole samples."""
    spans = []
    for start in {start for start, _ in late}:
        places = [round(at) for begun, at in late if begun == start]
        spans.append(max(places) - min(places))
    return float(max(spans, default=0))


def _cpu_s(_device: DevicePort) -> float:
    """CPU of this process and its engine so far."""
    total = 0.0
    children = " ".join(
        file.read_text() for file in Path("/proc/self/task").glob("*/children")
    ).split()
    for pid in ("self", *children):
        fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
        total += (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return total


# The bench ----------------------------------------------------------------------------------------


def measured(kind: str, seconds: float) -> dict[str, Any]:
    """One practice on a server of its own."""
    with sound_server() as server:
        folder = server.folder / "practice"
        folder.mkdir()
        in_terminal(
            [*THIS, "practice", str(folder), kind, str(seconds)],
            server.environment,
            limit_s=seconds + 60,
        )
        found: dict[str, Any] = json.loads((folder / "found.json").read_text())
        print(kind, json.dumps(found), flush=True)
        return found


def engines() -> None:
    """Both kinds, by turns, twice."""
    runs = {"inside": [], "engine": []}  # type: dict[str, list[dict[str, Any]]]
    for _ in range(2):
        for kind, found in runs.items():
            found.append(measured(kind, SIDE_BY_SIDE_S))
    names = {"inside": "in the trainer's own process", "engine": "in a process of its own"}
    rows = "\n".join(
        f"| {names[kind]} | {_both(found, 'cpu_share', 100, '{:.0f} %')} | "
        f"{_both(found, 'gap_ms', 1, '{:.0f} ms')} | "
        f"{' / '.join(str(len(one['faults'])) for one in found)} | "
        f"{' / '.join(str(one['missing']) for one in found)} | "
        f"{_both(found, 'jitter', 1, '{:.0f}')} |"
        for kind, found in runs.items()
    )
    write_section(
        "Engine inside or beside",
        f"`python -m tests.bench.steady_sound engines`: {SIDE_BY_SIDE_S:.0f} s of practice each, "
        f"twice, by turns; a screen asked to repaint whole {REPAINTS_PER_S} times a second, the "
        f"ear running; {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the end. A block "
        "of the sound server is 43 ms: no gap can be shorter.\n\n"
        "| engine | CPU of a core, both processes | longest gap between two callbacks | faults "
        "recorded | clicks not found | click jitter, samples |\n|---|---:|---:|---:|---:|---:|\n"
        f"{rows}\n\nKept: the process of its own. It shares no interpreter with the screen and "
        "the ear (as root, it also asks to go first); and a sound system that hangs or dies takes "
        "only the engine with it, which can be ended and started anew; a stream that hangs inside "
        "the trainer could be neither closed nor replaced. With five times the work the machine "
        "can do (load 11.5) the same runs gave, inside and beside: longest gaps 212 / 88 and "
        "96 / 107 ms, faults 2 / 3 and 0 / 2, jitter 0 / 4093 and 0 / 0 samples.",
    )


def _both(found: list[dict[str, Any]], name: str, factor: float, form: str) -> str:
    return " / ".join(form.format(factor * one[name]) for one in found)


def long(seconds: float) -> None:
    """One long practice as it is shipped."""
    found = measured("engine", seconds)
    write_section(
        "Long practice",
        f"`python -m tests.bench.steady_sound long`: {found['seconds']:.0f} s in real time on the "
        f"virtual sound server, {found['rounds']} rounds, a screen asked to repaint whole "
        f"{REPAINTS_PER_S} times a second, the ear running; {os.cpu_count()} cores, load "
        f"{os.getloadavg()[0]:.1f} at the end.\n\n| | |\n|---|---:|\n"
        f"| clicks looked for in what was played | {found['clicks']} |\n"
        f"| not found, or out of place, without a recorded fault | "
        f"{found['missing'] if not found['faults'] else 'see faults'} |\n"
        f"| click jitter | {found['jitter']:.0f} samples |\n"
        f"| faults recorded | {len(found['faults'])} |\n"
        f"| restarts of the stream | {found['restarts']} |\n"
        f"| longest gap between two callbacks | {found['gap_ms']:.0f} ms |\n"
        f"| CPU of a core, both processes | {100 * found['cpu_share']:.0f} % |",
    )


def hour() -> None:
    """An hour of rounds on the simulated port: the spacing of every click that was played."""
    import tempfile

    begun_s = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "routine.yaml").write_text(
            "title: Hour\nexercises:\n"
            + "".join(
                EXERCISE.format(key=key, tempo=60 + 3 * n, number=n)
                for n, key in enumerate(KEYS * 4)
            )
        )
        routine, problems = load_routine(folder / "routine.yaml")
        assert routine is not None, problems
        port = SimulatedPort(listens=False, memory_s=120.0)
        session = open_session(
            routine,
            planned_for(routine, date(2026, 3, 2), ()),
            port,
            user_paths({"TRAINER_HOME": name}),
            Beginning(now=lambda: datetime(2026, 3, 2, 12, tzinfo=UTC)),
        )
        clicks = wrong = 0
        round_ = None
        heard_to = 0
        places: list[int] = []
        while port.now_frame() < 3600 * RATE and session.view().stage is not Stage.ENDED:
            view = session.view()
            if view.stage in (Stage.TODAY, Stage.READY, Stage.READING):
                session.advance()
            port.advance(RATE // 50)
            session.tick()
            if view.stage in (Stage.COUNT_IN, Stage.PLAYING):
                round_ = view.round
            if view.stage is Stage.AFTER and round_ is not None:
                places = _tap_frames(port.played(heard_to, port.now_frame()))
                beat = round_.beat_s * RATE
                exact = places[0] + np.arange(len(places)) * beat
                wrong += int(np.sum(np.abs(np.array(places) - exact) > 1.0))
                clicks += len(places)
                heard_to, round_ = port.now_frame(), None
    took_s = time.monotonic() - begun_s
    write_section(
        "An hour of clicks",
        f"`python -m tests.bench.steady_sound hour`: {port.now_frame() / RATE:.0f} s of practice "
        f"on the simulated port in {took_s:.0f} s; {clicks} clicks found in what was played, "
        f"{wrong} of them more than a sample from its place against the first of its round.",
    )
    print(clicks, wrong, took_s)


def _tap_frames(played: Samples) -> list[int]:
    """Where each tap begins in what was played: the first sample that sounds."""
    sounding = np.flatnonzero(np.abs(played) > 0)
    starts = np.flatnonzero(np.diff(sounding, prepend=-RATE) > RATE // 20)
    return [int(sounding[at]) for at in starts]


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["practice", folder, kind, seconds]:
            practice(Path(folder), kind, float(seconds))
        case ["engines"]:
            engines()
        case ["long", *rest]:
            long(float(rest[0]) if rest else LONG_S)
        case ["hour"]:
            hour()
        case _:
            raise SystemExit(__doc__)
