"""Click and drone beside the routine through the real duplex stream, and a server that dies.

    python -m tests.bench.beside_stream [SECONDS]     ten minutes of each, at the same time

Each on a virtual sound server of its own whose device `loop` brings back every sample played. The
click: every start of a tap against its place. The drone, a fifth and an octave above it, pure:
every sample against the chord's own sines. Then in the tuner and in the click the server is killed
and started again: what the session tells, and how soon it sounds again. Writes 'Click and drone
through the stream' into RESULTS.md.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from datetime import UTC, date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from tests.bench.results import write_section
from tests.bench.sound_server import sound_server
from trainer.app.open_session import open_session, planned_for, ticking
from trainer.app.paths import user_paths
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning
from trainer.routine.load import load_routine
from trainer.session.beginning import Beginning
from trainer.session.session import Session
from trainer.session.view import ClickChange, DroneAbove
from trainer.sound.calibrate import measure_round_trip
from trainer.sound.device_port import DevicePort, open_port
from trainer.sound.partner import held_piece
from trainer.sound.stream import Wanted

THIS = (sys.executable, "-m", "tests.bench.beside_stream")
SECONDS, RATE = 600.0, 48000
BPM = 73.0
CHUNK_S = 0.5
AFTER_FAULT_S = 1.0
"""So much after a recorded fault is not looked at; then places are counted anew."""
REACH = 3000
"""Frames by which the round trip may have changed after a fault."""
WRONG = 1e-3
"""A sample this far from what was asked is wrong; full scale is 1."""
ROUTINE = "title: Short\nexercises:\n  - {scale: hill, key: D, range: one octave, tempo: 96}\n"
WAIT_S = 60.0


def opened(port: DevicePort, folder: Path) -> Session:
    file = folder / "routine.yaml"
    file.write_text(ROUTINE)
    routine, problems = load_routine(file)
    assert routine is not None, problems
    beginning = Beginning(now=lambda: datetime(2026, 3, 2, 12, tzinfo=UTC))
    paths = user_paths({"TRAINER_HOME": str(folder / "home")})
    return open_session(routine, planned_for(routine, date(2026, 3, 2), ()), port, paths, beginning)


def wait_until(port: DevicePort, frame: int) -> None:
    while port.heard_frame() < frame:
        time.sleep(0.02)


def matched(port: DevicePort) -> None:
    """What is played at a frame is read at that frame."""
    trip = measure_round_trip(port, lambda frame: wait_until(port, frame), chirps=4)
    assert trip is not None
    port.lengthen_round_trip(round(trip.frames) - port.round_trip_frames)


def begin(session: Session, what: str) -> None:
    """The click at BPM, or the drone."""
    if what == "click":
        session.use_click(True)
        session.tap(0.0)
        session.tap(60.0 / BPM)
        session.change_click(ClickChange.START_OR_STOP)
    else:
        session.tune(True)
        session.sound_drone(Pitch.parse("D4"), pure=True, above=DroneAbove.FIFTH_AND_OCTAVE)


def listened(what: str, seconds: float) -> dict[str, Any]:
    """So long of it, looked at sample by sample."""
    port = open_port(Wanted("loop", "loop"))
    matched(port)
    with TemporaryDirectory() as name:
        session = opened(port, Path(name))
        check = _Clicks() if what == "click" else _Drone(session)
        with ticking(session):
            begin(session, what)
            at, known = port.now_frame() + RATE, len(port.faults())
            for _ in range(round(seconds / CHUNK_S)):
                end = at + round(CHUNK_S * RATE)
                wait_until(port, end + RATE // 4)
                if len(port.faults()) == known:
                    check.take(at, port.read(at, end).astype(float))
                    at = end
                else:
                    while not port.alive:
                        time.sleep(0.05)
                    at, known = port.now_frame() + round(AFTER_FAULT_S * RATE), len(port.faults())
                    check.begin_anew()
    faults = [(round(fault.frame / RATE, 2), fault.what) for fault in port.faults()]
    gap_s = port.longest_gap_s
    port.close()
    return {
        "looked": check.looked,
        "wrong": check.wrong,
        "jumps": [(round(at / RATE, 2), by) for at, by in check.jumps],
        "faults": faults,
        "longest gap": round(gap_s, 3),
    }


class _Clicks:
    """Starts of taps, each against the first at one distance."""

    def __init__(self) -> None:
        self.looked = self.wrong = 0
        self.jumps: list[tuple[int, int]] = []
        """Where a tap lies off its place by more or less than the one before, and by how much."""
        self._first: int | None = None
        self._last, self._off = -RATE, 0

    def begin_anew(self) -> None:
        self._first, self._last, self._off = None, -RATE, 0

    def take(self, at: int, heard: np.ndarray) -> None:
        for start in np.flatnonzero(np.abs(heard) > 1e-4) + at:
            if start - self._last > RATE // 5:
                if self._first is None:
                    self._first = int(start)
                beat = round((start - self._first) * BPM / 60 / RATE)
                off = int(start) - self._first - round(beat * 60 * RATE / BPM)
                self.looked += 1
                self.wrong += abs(off) > 2
                if abs(off - self._off) > 2:
                    self.jumps.append((int(start), off - self._off))
                self._off = off
            self._last = int(start)


class _Drone:
    """Every sample against the chord, from the frame at which the session began it."""

    def __init__(self, session: Session) -> None:
        self.looked = self.wrong = 0
        self.jumps: list[tuple[int, int]] = []
        """Where samples go wrong, and how many of them in that half second."""
        self._session = session
        root_hz = Tuning().hz(Pitch.parse("D4"))
        self._voices_hz = [root_hz, 1.5 * root_hz, 2 * root_hz]
        self._began: int | None = None

    def begin_anew(self) -> None:
        self._began = None

    def take(self, at: int, heard: np.ndarray) -> None:
        began = self._session._walk.beside._used._drone_from_frame  # type: ignore[union-attr]
        if self._began is None:
            near = range(began - REACH, began + REACH + 1)
            self._began = self._match(near, at, heard)
        off = np.abs(heard - self._chord(at - self._began, heard.size))
        self.looked += heard.size
        wrong = np.flatnonzero(off > WRONG)
        self.wrong += wrong.size
        if wrong.size:
            self.jumps.append((at + int(wrong[0]), wrong.size))

    def _match(self, near: range, at: int, heard: np.ndarray) -> int:
        """The beginning that fits the first tenth of a second best."""
        whole = self._chord(at - near[-1], len(near) + RATE // 10)
        fits = [
            float(np.abs(heard[: RATE // 10] - whole[place : place + RATE // 10]).max())
            for place in range(len(near))
        ]
        return near[-1] - int(np.argmin(fits))

    def _chord(self, from_frame: int, frames: int) -> np.ndarray:
        rise = RATE  # held_piece rises and falls at its ends
        whole = held_piece(self._voices_hz, from_frame - rise, frames + 2 * rise, RATE)
        return whole[rise:-rise].astype(float)


def maltreated(what: str) -> dict[str, Any]:
    """The server dies under it, and comes back when the bench says so."""
    port = open_port(Wanted("loop", "loop"))
    with TemporaryDirectory() as name:
        session = opened(port, Path(name))
        with ticking(session):
            begin(session, what)
            wait_until(port, port.now_frame() + 3 * RATE)
            print("open", flush=True)
            until(lambda: not port.alive)
            until(lambda: len(session.view().notices) > 0)
            told = list(session.view().notices)
            print("lost", flush=True)
            until(lambda: port.alive)
            back_frame = port.heard_frame()
            until(lambda: sounds(port, back_frame))
            after_s = (port.heard_frame() - back_frame) / RATE
            told_after = list(session.view().notices)[len(told) :]
    port.close()
    return {"told": told, "told after": told_after, "sounds after": after_s}


def sounds(port: DevicePort, from_frame: int) -> bool:
    heard = port.read(from_frame, port.heard_frame())
    return bool(heard.size and np.abs(heard).max() > 0.02)


def until(reached: Any) -> None:
    deadline_s = time.monotonic() + WAIT_S
    while not reached():
        if time.monotonic() > deadline_s:
            raise SystemExit("it never came")
        time.sleep(0.02)


def torn(what: str) -> dict[str, Any]:
    """One server killed under one program, and started again."""
    with sound_server() as server:
        program = subprocess.Popen(
            [*THIS, "maltreated", what], env=server.environment, stdout=subprocess.PIPE, text=True
        )
        assert program.stdout is not None
        assert program.stdout.readline() == "open\n"
        os.kill(server.pid, signal.SIGKILL)
        assert program.stdout.readline() == "lost\n"
        server.start()
        found: dict[str, Any] = json.loads(program.communicate(timeout=120)[0].splitlines()[-1])
        return found


def measured(what: str, seconds: float, found: dict[str, Any]) -> None:
    with sound_server() as server:
        heard = subprocess.run(
            [*THIS, "listened", what, str(seconds)],
            env=server.environment, capture_output=True, text=True, timeout=2 * seconds + 300,
        )  # fmt: skip
        print(heard.stderr[-2000:], file=sys.stderr)
        found[what] = json.loads(heard.stdout.splitlines()[-1])


def main(seconds: float) -> None:
    """Both at the same time, then both torn."""
    found: dict[str, Any] = {}
    load_before = os.getloadavg()[0]
    both = [
        threading.Thread(target=measured, args=(what, seconds, found))
        for what in ("click", "drone")
    ]
    for each in both:
        each.start()
    for each in both:
        each.join()
    print(json.dumps(found), load_before, flush=True)
    gone = {what: torn(what) for what in ("click", "drone")}
    rows = "\n".join(
        f"| {what} | {one['looked']} | {one['wrong']} | {len(one['faults'])} |"
        for what, one in found.items()
    )
    lost = "\n".join(
        f"| {what} | {' / '.join(one['told'])} | {' / '.join(one['told after'])} "
        f"| {one['sounds after']:.1f} s |"
        for what, one in gone.items()
    )
    body = (
        f"`python -m tests.bench.beside_stream`: {seconds:.0f} s of each in real time, load "
        f"{os.getloadavg()[0]:.1f} at the end.\n\n"
        "| | taps, samples looked at | wrong | faults and returns |\n|---|---:|---:|---:|\n"
        f"{rows}\n\n"
        "| server killed under | told | told when it was back | sounds again after |\n"
        f"|---|---|---|---|\n{lost}"
    )
    print(body)
    write_section("Click and drone through the stream", body)


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["listened", what, seconds]:
            print(json.dumps(listened(what, float(seconds))))
        case ["maltreated", what]:
            print(json.dumps(maltreated(what)))
        case rest:
            main(float(rest[0]) if rest else SECONDS)
