"""What the trainer costs while it runs, through the virtual sound server, on a 120×40 terminal.

    python -m tests.bench.live_cost

CPU stands beside that of a bare stream that plays clicks, taken in the same run. Writes 'Live cost'
into RESULTS.md.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import psutil
import soundfile
from numpy.typing import NDArray

from tests.bench.results import write_section
from tests.bench.sound_server import sound_server
from tests.bench.terminal import COLUMNS, LIMIT_S, LINES, in_terminal
from trainer.app.open_session import open_session, planned_for, ticking
from trainer.app.paths import user_paths
from trainer.ear.heard import State
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.routine.load import load_routine
from trainer.session.beginning import Beginning
from trainer.session.round_begins import RoundBegins
from trainer.session.round_recorder import LEAD_S
from trainer.session.session import Session
from trainer.session.view import Stage
from trainer.sound.click import Tap, click
from trainer.sound.device_port import DevicePort, open_port
from trainer.sound.process import undisturbed

WATCHED_S = 8.0
TEMPO_BPM = 72
TITLE = "Cost of one round"
ROUTINE = f"""
title: {TITLE}
exercises:
  - scale: hill
    key: D
    range: full
    tempo: {TEMPO_BPM}
    articulations: [single]
"""


# Programs that run beside the sound server, each in a process of its own -------------------------


def clicks(folder: Path) -> None:
    """The reference: a bare stream that plays four clicks a second."""
    with closing(open_port()) as port, undisturbed():
        first = port.now_frame() + port.sample_rate_hz
        tap = click(Tap.ACCENT, port.sample_rate_hz)
        for number in range(4 * round(WATCHED_S) + 8):
            port.play(tap, first + number * port.sample_rate_hz // 4)
        time.sleep(2.0)
        share = _cpu_share(WATCHED_S)
    (folder / "clicks.json").write_text(json.dumps({"share": share}))


def practice(folder: Path) -> None:
    """The real trainer: stream, session and screen, with the flutist at the microphone."""
    from trainer.screens.app import TrainerApp

    (folder / "routine.yaml").write_text(ROUTINE)
    routine, problems = load_routine(folder / "routine.yaml")
    assert routine is not None, problems
    planned = planned_for(routine, date(2026, 3, 2), ())
    round_ = planned[0].rounds[0]
    played = Flutist(Habits(), seed=11).play(round_.notes, round_.tempo_bpm, round_.tuning, 48000)
    begun: list[RoundBegins] = []

    def play_in(begins: RoundBegins) -> None:
        begun.append(begins)
        rate = port.sample_rate_hz
        wait_s = (begins.first_beat_frame - port.now_frame()) / rate - played.first_beat_s
        silence = np.zeros(max(0, round(wait_s * rate)), np.float32)
        file = folder / "flutist.wav"
        soundfile.write(file, np.concatenate([silence, played.samples]), rate)
        subprocess.Popen(["paplay", "--device=micline", "--latency-msec=40", str(file)])

    with closing(open_port()) as port, undisturbed():
        session = open_session(
            routine,
            planned,
            port,
            user_paths({"TRAINER_HOME": str(folder / "home")}),
            Beginning(now=lambda: datetime(2026, 3, 2, 12, tzinfo=UTC), round_begins=play_in),
        )
        watch = _Watch(session, port)
        app = watch.app(TrainerApp)
        found: dict[str, Any] = {}
        student = threading.Thread(target=_practise, args=(session, app, watch, found), daemon=True)
        with ticking(session):
            student.start()
            app.run()
        found |= watch.delays(begun[0], found.pop("take"))
        found["faults"] = [fault.what for fault in port.faults()]
    (folder / "practice.json").write_text(json.dumps(found))


def _practise(session: Session, app: Any, watch: _Watch, found: dict[str, Any]) -> None:
    """What a student does, and what the process spends meanwhile."""
    time.sleep(8.0)
    watch.begin()
    found["today"] = _cpu_share(WATCHED_S)
    found["today_bytes"] = watch.bytes_a_second()
    session.advance()
    time.sleep(4.0)
    found["ready"] = _cpu_share(WATCHED_S / 2)
    session.advance()
    _wait_for(session, Stage.PLAYING)
    time.sleep(0.5)
    watch.begin()
    found["playing"] = _cpu_share(WATCHED_S)
    found["playing_bytes"] = watch.bytes_a_second()
    before_s, begun_s = time.process_time(), time.monotonic()
    _wait_for(session, Stage.AFTER)
    found["weighing_s"] = time.process_time() - before_s
    found["weighing_wall_s"] = time.monotonic() - begun_s
    found["take"] = session.view().take
    app.call_from_thread(app.exit)


def _wait_for(session: Session, stage: Stage) -> None:
    deadline_s = time.monotonic() + LIMIT_S
    while session.view().stage is not stage and time.monotonic() < deadline_s:
        time.sleep(0.005)


def _cpu_share(seconds: float) -> float:
    """CPU seconds of this process and the sound engine's a second of real time, all threads
    together."""
    cpu_s, wall_s = _cpu_s(), time.monotonic()
    time.sleep(seconds)
    return (_cpu_s() - cpu_s) / (time.monotonic() - wall_s)


def _cpu_s() -> float:
    here = psutil.Process()
    ours = [here, *(one for one in here.children() if one.name().startswith("python"))]
    return sum(one.cpu_times().user + one.cpu_times().system for one in ours)


class _Watch:
    """When the microphone's frames could be read, and when the screen showed what was in them."""

    def __init__(self, session: Session, port: DevicePort) -> None:
        self._session = session
        self._port = port
        self._clock: list[tuple[float, int]] = []
        self._looks: list[tuple[float, float]] = []
        self._writes_s: list[float] = []
        self._written = 0
        self._begun = (0.0, 0)

    def begin(self) -> None:
        """Count from here on what is written to the terminal."""
        self._begun = time.monotonic(), self._written

    def bytes_a_second(self) -> float:
        """Written to the terminal since then."""
        begun_s, written = self._begun
        return (self._written - written) / (time.monotonic() - begun_s)

    def app(self, kind: Any) -> Any:
        """The trainer's app, watched."""
        watch = self

        class Watched(kind):  # type: ignore[misc]
            CSS_PATH = Path(sys.modules[kind.__module__].__file__ or "").with_name(kind.CSS_PATH)

            def on_mount(self) -> None:
                write = self._driver.write  # Textual calls the trainer's own on_mount itself

                def timed(data: str) -> None:
                    write(data)
                    watch._written += len(data.encode())
                    watch._writes_s.append(time.monotonic())

                self._driver.write = timed

            def look(self) -> None:
                watch._clock.append((time.monotonic(), watch._port.heard_frame()))
                super().look()
                trail = [one.time_s for one in watch._session.view().trail if one.midi is not None]
                if trail:
                    watch._looks.append((time.monotonic(), trail[-1]))

        return Watched(self._session, lambda: "")

    def delays(self, begins: RoundBegins, take: Any) -> dict[str, Any]:
        """From each note's onset being readable to the first paint with a reading after it."""
        rate = self._port.sample_rate_hz
        at_s, frames = np.array(self._clock).T
        slope, start = np.polyfit(frames, at_s, 1)
        take_frame = begins.first_beat_frame - round(LEAD_S * rate)
        delays_ms = []
        for note in take.expected_notes:
            if note.onset_s is None:
                continue
            readable_s = start + slope * (take_frame + note.onset_s * rate)
            shown_s = next((at for at, tone_s in self._looks if tone_s >= note.onset_s), None)
            painted_s = next((at for at in self._writes_s if shown_s and at >= shown_s), None)
            if painted_s is not None:
                delays_ms.append(1000 * (painted_s - readable_s))
        return {
            "played": take.count(State.PLAYED),
            "missed": take.count(State.MISSED),
            "delays_ms": delays_ms,
            "look_ms": (1000 * np.diff([at for at, _ in self._clock])).tolist(),
        }


# The bench ---------------------------------------------------------------------------------------


def measured(folder: Path, environment: dict[str, str]) -> dict[str, Any]:
    """Everything, in order: nothing runs beside what is being measured."""
    this = [sys.executable, "-m", "tests.bench.live_cost"]
    subprocess.run([*this, "clicks", str(folder)], env=environment, check=True, timeout=LIMIT_S)
    record = folder / "speakers.wav"
    recorder = subprocess.Popen(
        ["parecord", "--device=speakers.monitor", "--file-format=wav", str(record)], env=environment
    )
    try:
        in_terminal([*this, "practice", str(folder)], environment)
    finally:
        recorder.send_signal(signal.SIGINT)
        recorder.wait(timeout=10)
    return {
        "clicks": json.loads((folder / "clicks.json").read_text())["share"],
        **json.loads((folder / "practice.json").read_text()),
        "spacing_ms": click_spacing_ms(record).tolist(),
    }


def click_spacing_ms(record: Path) -> NDArray[np.float64]:
    """Time between the clicks heard at the loudspeaker."""
    sound, rate = soundfile.read(record, always_2d=True)
    level = np.abs(sound).max(axis=1)
    loud = np.flatnonzero(level > 0.2 * level.max())
    first = loud[np.diff(loud, prepend=-rate) > 0.2 * rate]
    return np.diff(first) / rate * 1000


def section(found: dict[str, Any]) -> str:
    """The figures as a table."""
    beside = found["clicks"]
    rows = [
        ("CPU, bare stream with clicks", f"{100 * beside:.1f} % of a core", "1"),
        *(
            (f"CPU, {what}", f"{100 * found[name]:.1f} % of a core", f"{found[name] / beside:.1f}")
            for what, name in (
                ("today's screen, idle", "today"),
                ("ready, listening for a beginning", "ready"),
                ("a round sounding", "playing"),
            )
        ),
    ]
    delays, looks = np.array(found["delays_ms"]), np.array(found["look_ms"])
    spacing = np.array(found["spacing_ms"]) - 60_000 / TEMPO_BPM
    rows += [
        ("sound readable → trail painted, median", f"{np.median(delays):.0f} ms", "–"),
        ("… 95th percentile", f"{np.percentile(delays, 95):.0f} ms", "–"),
        ("written to the terminal, today's screen", f"{found['today_bytes'] / 1000:.1f} kB/s", "–"),
        ("… a round sounding", f"{found['playing_bytes'] / 1000:.1f} kB/s", "–"),
        ("time between two looks, median / 99th", _two(looks, 99), "–"),
        ("… the longest", f"{looks.max():.1f} ms", "–"),
        ("click spacing off, median / largest", _two(np.abs(spacing), 100), "–"),
    ]
    table = "\n".join(f"| {what} | {figure} | {ratio} |" for what, figure, ratio in rows)
    faults = f"{len(found['faults'])} ({found['faults'][0]})" if found["faults"] else "none"
    return (
        f"Virtual sound server, {COLUMNS}×{LINES}, D major over the full range, single, "
        f"{TEMPO_BPM} bpm; {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the end. "
        "The idle and ready rows include the bench's own student, who prepares the sound in the "
        "same process. "
        f"{found['played']} notes heard, {found['missed']} missed, {len(delays)} delays; "
        f"stream faults: {faults}. The delay starts where the microphone's frames can be read "
        "(the device's own latency before that is left out) and ends when Textual has written "
        "the frame.\n\n| | measured | against its reference |\n|---|---:|---:|\n" + table
    )


def _two(values: NDArray[np.float64], percentile: float) -> str:
    return f"{np.median(values):.2f} / {np.percentile(values, percentile):.2f} ms"


def main() -> None:
    """Start a sound server, measure, write down."""
    with sound_server() as server:
        text = section(measured(server.folder, server.environment))
    print(text)
    write_section("Live cost", text)


PROGRAMS = {"clicks": clicks, "practice": practice}

if __name__ == "__main__":
    if len(sys.argv) > 1:
        PROGRAMS[sys.argv[1]](Path(sys.argv[2]))
    else:
        main()
