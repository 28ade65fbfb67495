"""Programs for `test_real_stream`: each runs in a process of its own against a sound server.

    real_stream.py loop | microphone | torn | held_up  FOLDER

Prints one JSON object.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

from trainer.sound.calibrate import RoundTrip, measure_round_trip
from trainer.sound.click import Tap, click
from trainer.sound.device_port import DevicePort, open_port
from trainer.sound.stream import Wanted

RATE = 48000
STEP_FRAMES = 12_000
CLICKS = 20


def wait_until(port: DevicePort, frame: int, limit_s: float = 120.0) -> None:
    deadline_s = time.monotonic() + limit_s
    while port.heard_frame() < frame and time.monotonic() < deadline_s:
        time.sleep(0.02)


def round_trip_of(port: DevicePort) -> RoundTrip | None:
    return measure_round_trip(port, lambda frame: wait_until(port, frame), chirps=4)


def loop(_folder: Path) -> dict[str, Any]:
    """Clicks through a cable from the output to the input; the round trip measured first."""
    port = open_port(Wanted("loop", "loop"))
    reported_frames = port.round_trip_frames
    round_trip = round_trip_of(port)
    assert round_trip is not None
    port.lengthen_round_trip(round(round_trip.frames) - port.round_trip_frames)

    first = port.now_frame() + RATE // 4
    tap = click(Tap.ACCENT, RATE)
    for number in range(CLICKS):
        port.play(tap, first + number * STEP_FRAMES)
    wait_until(port, first + CLICKS * STEP_FRAMES)
    heard = port.read(first, first + CLICKS * STEP_FRAMES).reshape(CLICKS, STEP_FRAMES)
    found = {
        "name": port.name,
        "reported_frames": reported_frames,
        "round_trip_frames": round_trip.frames,
        "spread_frames": round_trip.spread_frames,
        "peaks": np.argmax(np.abs(heard), axis=1).tolist(),
        "peak_of_tap": int(np.argmax(np.abs(tap))),
        "largest_difference": float(np.abs(heard[:, : tap.size] - tap).max()),
        "faults": [fault.what for fault in port.faults()],
        "alive": port.alive,
    }
    port.close()
    return found


def microphone(folder: Path) -> dict[str, Any]:
    """What is fed to the microphone, as the port heard it until a second after all was fed."""
    fed = folder / "fed"
    fed.unlink(missing_ok=True)
    port = open_port()
    wait_until(port, RATE // 4)
    print("open", flush=True)
    while not fed.exists():
        time.sleep(0.01)
    wait_until(port, port.now_frame() + RATE)
    np.save(folder / "heard.npy", port.read(0, port.heard_frame()))
    port.close()
    return {"faults": [fault.what for fault in port.faults()]}


def torn(_folder: Path) -> dict[str, Any]:
    """The server dies while the stream runs, and comes back when the test says so."""
    port = open_port(Wanted("loop", "loop"))
    wait_until(port, RATE // 2)
    print("open", flush=True)
    stopped_frame, stopped_s = port.now_frame(), time.monotonic()
    deadline_s = stopped_s + 120.0
    while port.alive and time.monotonic() < deadline_s:
        if port.now_frame() != stopped_frame:
            stopped_frame, stopped_s = port.now_frame(), time.monotonic()
        time.sleep(0.01)
    noticed_s = time.monotonic() - stopped_s
    alive = port.alive
    print("lost", flush=True)
    deadline_s = time.monotonic() + 120.0
    while not port.alive and time.monotonic() < deadline_s:
        time.sleep(0.01)
    back, frame = port.alive, port.now_frame()
    wait_until(port, frame + RATE)
    goes_on_frames = port.now_frame() - stopped_frame
    closing_s = time.monotonic()
    port.close()
    return {
        "alive": alive,
        "noticed_s": noticed_s,
        "back": back,
        "stood_at": [stopped_frame, frame],
        "goes_on_frames": goes_on_frames,
        "closed_s": time.monotonic() - closing_s,
        "faults": [fault.what for fault in port.faults()],
    }


def held_up(_folder: Path) -> dict[str, Any]:
    """The whole program is held up for two seconds."""
    port = open_port(Wanted("loop", "loop"))
    before = round_trip_of(port)
    print("open", flush=True)
    deadline_s = time.monotonic() + 120.0
    while not port.faults() and time.monotonic() < deadline_s:
        time.sleep(0.02)
    stood_frame = port.now_frame()
    while not port.alive and time.monotonic() < deadline_s:
        time.sleep(0.02)
    after = round_trip_of(port)
    found = {
        "before": before and before.frames,
        "after": after and after.frames,
        "slipped": port.slipped,
        "alive": port.alive,
        "clock_went_on": port.now_frame() > stood_frame,
        "faults": [fault.what for fault in port.faults()],
    }
    port.close()
    return found


PROGRAMS = {"loop": loop, "microphone": microphone, "torn": torn, "held_up": held_up}

if __name__ == "__main__":
    print(json.dumps(PROGRAMS[sys.argv[1]](Path(sys.argv[2]))))
