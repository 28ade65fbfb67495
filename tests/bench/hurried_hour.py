"""An hour of practice through sound servers whose clock runs several times as fast as ours.

    python -m tests.bench.hurried_hour [SECONDS]

The servers are told of a rate so many times higher, and the engine believes that it is the usual
one: session, engine, port, ear and a played-in flutist then live through an hour in minutes, every
block played and heard by a real server. The loop brings back what was played; each click is
compared with where the others of its stream come back. PulseAudio's and JACK's clocks, one after
the other. Writes 'An hour through sound servers' into RESULTS.md.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from itertools import pairwise
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

from tests.bench.results import write_section
from tests.bench.sample_exact import LOOP, PERIOD, jack_server
from tests.bench.sound_server import sound_server
from tests.bench.steady_sound import EXERCISE, KEYS, RATE, LoggedPort
from trainer.app.open_session import open_session, planned_for, ticking
from trainer.app.paths import user_paths
from trainer.app.simulated_flutist import SimulatedFlutist
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.routine.load import load_routine
from trainer.session.beginning import Beginning
from trainer.session.view import Stage
from trainer.session.walk import READY_S
from trainer.sound import engine
from trainer.sound.calibrate import calibration_chirp, find_sound
from trainer.sound.device_port import DevicePort, watch
from trainer.sound.latency_watch import heard_clicks
from trainer.sound.portaudio import device_library
from trainer.sound.process import undisturbed
from trainer.sound.stream import Wanted

TIMES = 8
HOUR_S = 3600.0
LOOK_S = 0.5
"""Of our own time; what was heard is remembered for long enough."""
OFF_SAMPLES = 1.0
APART_S = 1.5
"""Between the clicks of two rounds, and never within one."""
ROUND_S = 40.0
"""No round lasts longer."""
LATEST_S = 3.0
"""A round trip so long is still found; the server's own delay counts TIMES over."""
FAST_SINK = """
pcm.loop { type asym
  playback.pcm { type pulse device fast }
  capture.pcm { type pulse device fast.monitor }
  hint { show on description "Loop" } }
pcm.!default { type pulse
  hint { show on description "Speakers and microphone" } }
ctl.!default { type pulse }
"""
PROGRAM = """
import sys
sys.path[:0] = [{project!r}]
from tests.bench.hurried_hour import fast_engine
fast_engine()
"""


class FastLibrary:
    """The sound library, whose devices are opened at a rate TIMES as high as asked."""

    def __init__(self) -> None:
        self._library = device_library()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._library, name)

    def Stream(self, samplerate: int, **settings: Any) -> Any:  # noqa: N802, its own name
        """As the library's own."""
        return self._library.Stream(samplerate=TIMES * samplerate, **settings)


def fast_engine() -> None:
    """The engine's process."""
    library = FastLibrary()
    engine.device_library = lambda: library
    engine.main()


@contextmanager
def pulse() -> Iterator[str]:
    """PulseAudio with a fast sink; the device to open."""
    with sound_server() as server:
        kind = f"sink_name=fast rate={TIMES * RATE} channels=1 format=float32le norewinds=1"
        server.tell("load-module", "module-null-sink", *kind.split())
        file = server.folder / "fast.conf"
        file.write_text(FAST_SINK)
        os.environ |= {**server.environment, "ALSA_CONFIG_PATH": str(file)}
        yield "loop"


@contextmanager
def jack() -> Iterator[str]:
    """JACK with a fast driver; the device to open."""
    with jack_server(TIMES * RATE, TIMES * PERIOD):
        yield LOOP


SERVERS = {"PulseAudio": pulse, "JACK": jack}


@dataclass
class Clicks:
    """What was found of the clicks."""

    late: dict[int, float | None]
    """Frame → how much later than believed it came back; None where it wasn't found."""
    faults: tuple[int, ...] = ()
    """Frames at which the port noted that sound was lost."""
    rounds: int = 0
    seconds: float = 0.0
    took_s: float = 0.0

    @property
    def off(self) -> list[int]:
        """Frames of those that came elsewhere than most, or not at all."""
        usual = median(late for late in self.late.values() if late is not None)
        return [
            frame
            for frame, late in self.late.items()
            if late is None or abs(late - usual) > OFF_SAMPLES
        ]

    @property
    def hurried(self) -> list[int]:
        """Those that were not found and are the first of a count-in: ordered READY_S ahead, which
        is a few hundredths of a second of our own time."""
        places = sorted(self.late)
        firsts = {at for before, at in pairwise([0, *places]) if at - before > APART_S * RATE}
        return [frame for frame in self.off if self.late[frame] is None and frame in firsts]

    @property
    def unexplained(self) -> list[int]:
        """The rest, where no recorded fault explains them: a stream that lost sound may stay late
        until the round is over and it is restarted."""
        return [
            frame
            for frame in self.off
            if frame not in self.hurried
            and not any(-RATE < frame - fault < ROUND_S * RATE for fault in self.faults)
        ]


def measure(port: DevicePort) -> int:
    """The loop's delay in frames, which is longer than any real one's."""
    chirp = calibration_chirp(RATE)
    at = port.now_frame() + RATE
    port.play(chirp, at)
    end = at + round(LATEST_S * RATE)
    while port.heard_frame() < end:
        time.sleep(0.01)
    found = find_sound(port.read(at, end), chirp)
    if found is None:
        raise SystemExit("what was played does not come back")
    return round(found)


def practise(device_name: str, seconds: float, folder: Path) -> Clicks:
    """So many seconds of the port's clock."""
    routine_file = folder / "routine.yaml"
    routine_file.write_text(
        "title: Hour\nexercises:\n"
        + "".join(
            EXERCISE.format(key=key, tempo=60 + n, number=n) for n, key in enumerate(KEYS * 4)
        )
    )
    routine, problems = load_routine(routine_file)
    assert routine is not None, problems
    paths = user_paths({"TRAINER_HOME": str(folder / "home")})
    known: list[int] = []
    device = DevicePort(
        Wanted(device_name, device_name),
        log_path=paths.log_file,
        measured=lambda _name, _rate: known[0] if known else None,
    )
    device.start()
    threading.Thread(target=watch, args=(device,), daemon=True).start()
    while not device.alive:
        time.sleep(0.05)
    time.sleep(0.5)
    device.lengthen_round_trip(measure(device))
    known.append(device.round_trip_frames)
    port = LoggedPort(device)
    found = Clicks({})
    begun_s, first_frame = time.monotonic(), device.now_frame()
    with closing(port), undisturbed():
        session = open_session(
            routine,
            planned_for(routine, date(2026, 3, 2), ()),
            port,
            paths,
            Beginning(
                now=lambda: datetime(2026, 3, 2, 12, tzinfo=UTC),
                round_begins=SimulatedFlutist(Flutist(Habits(), seed=11), port).round_begins,
            ),
        )
        with ticking(session):
            stage, looked, told_s = session.view().stage, 0, begun_s
            while port.now_frame() < first_frame + seconds * RATE and stage is not Stage.ENDED:
                view = session.view()
                if view.stage in (Stage.TODAY, Stage.READY, Stage.READING):
                    session.advance()
                if view.stage is not stage and view.stage is Stage.AFTER:
                    found.rounds += 1
                stage = view.stage
                due = [c for c in port.clicks if c[0] < device.heard_frame() - RATE][looked:]
                if len(due) > 1:
                    heard = heard_clicks(device, due)
                    found.late |= {frame: None for frame, _ in due} | dict(heard)
                    looked += len(due)
                if time.monotonic() > told_s + 30:
                    told_s = time.monotonic()
                    seconds_done = (port.now_frame() - first_frame) / RATE
                    print(f"{seconds_done:.0f} s, {len(found.late)} clicks", flush=True)
                time.sleep(LOOK_S)
        found.seconds = (port.now_frame() - first_frame) / RATE
    found.took_s = time.monotonic() - begun_s
    found.faults = tuple(fault.frame for fault in device.faults() if fault.lost)
    return found


def main() -> None:
    """Both servers."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else HOUR_S
    engine.PROGRAM = PROGRAM.format(project=str(Path(__file__).parents[2]))
    lines = []
    usual = dict(os.environ)
    for name, server in SERVERS.items():
        with server() as device_name, TemporaryDirectory() as folder:
            found = practise(device_name, seconds, Path(folder))
        os.environ.clear()
        os.environ.update(usual)
        print(name, found.off, found.unexplained, found.faults, flush=True)
        lines.append(
            f"| {name} | {found.seconds:.0f} s in {found.took_s:.0f} s | {found.rounds} | "
            f"{len(found.late)} | {len(found.off)} | {len(found.hurried)} | "
            f"{len(found.unexplained)} | "
            f"{len(found.faults)} |"
        )
    write_section(
        "An hour through sound servers",
        f"`python -m tests.bench.hurried_hour`: practice through servers whose clock runs {TIMES} "
        "times as fast as ours, with the engine in its own process, the ear and a played-in "
        "flutist; the loop brings back what was played. 'Off': not found, or more than a sample "
        "from where most clicks come back. 'Ordered late': the first of a count-in, not played, "
        f"since {READY_S:g} s are {1000 * READY_S / TIMES:.0f} ms here. 'Unexplained': the rest, "
        f"where no fault was recorded before it in its round. "
        f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the end."
        "\n\n| server | practice | rounds | clicks | off | ordered late | unexplained | "
        "faults recorded |\n|---|---|---:|---:|---:|---:|---:|---:|\n" + "\n".join(lines),
    )


if __name__ == "__main__":
    main()
