"""The commands beside the flute: practise, and the devices practice needs."""

from __future__ import annotations

import argparse
import json
import os
import time
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.app.paths import user_paths
from trainer.commands.desk import routine_or_complaint
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from trainer.commands.family import Commands


def add_to(commands: Commands) -> None:
    """Add these commands to the command line."""
    practise = commands.add_parser("practise", help="today's routine (the same as no command)")
    practise.add_argument("--routine", type=Path, metavar="FILE", help="another routine file")
    practise.add_argument("--level", metavar="NAME", help="a level the routine names")
    practise.add_argument(
        "--player", metavar="HABITS", nargs="?", const="student", help="an invented flutist plays"
    )
    practise.add_argument("--lines", action="store_true", help="told in lines, for a screen reader")
    practise.set_defaults(command=practise_today)

    quick = commands.add_parser(
        "quick", help="a few minutes: long tones, the worst trouble spot, a scale"
    )
    quick.add_argument("--lines", action="store_true", help="told in lines, for a screen reader")
    quick.set_defaults(command=_quick)

    tuner = commands.add_parser("tuner", help="tune: any note, a drone, somebody else's A")
    tuner.add_argument("--lines", action="store_true", help="told in lines, for a screen reader")
    tuner.set_defaults(command=_tuner)

    calibrate = commands.add_parser(
        "calibrate", help="measure the delay between loudspeaker and microphone"
    )
    calibrate.add_argument("--json", action="store_true")
    calibrate.set_defaults(command=_calibrate)

    microphone = commands.add_parser(
        "microphone", help="a minute's check of what your microphone makes of your flute"
    )
    microphone.set_defaults(command=_microphone)

    devices = commands.add_parser("devices", help="the microphones and speakers there are")
    devices.add_argument("--json", action="store_true")
    devices.set_defaults(command=_devices)


def practise_today(options: argparse.Namespace) -> int:
    """Today's routine on the screen; `options.routine` and `options.player` choose others."""
    from trainer.app.todays_routine import routine_file_for
    from trainer.commands.practise_today import practise_on_screen

    paths = user_paths(os.environ)
    routine = routine_or_complaint(options.routine or routine_file_for(paths), options.level)
    if routine is None:
        return 1
    practise_on_screen(routine, paths, player=options.player, in_lines=options.lines)
    return 0


def _tuner(options: argparse.Namespace) -> int:
    return _on_todays_routine(at_first="tuner", in_lines=options.lines)


def _quick(options: argparse.Namespace) -> int:
    return _on_todays_routine(few_minutes=True, in_lines=options.lines)


def _on_todays_routine(
    *, at_first: str = "", few_minutes: bool = False, in_lines: bool = False
) -> int:
    from trainer.app.todays_routine import routine_file_for
    from trainer.commands.practise_today import practise_on_screen

    paths = user_paths(os.environ)
    routine = routine_or_complaint(routine_file_for(paths), None)
    if routine is None:
        return 1
    practise_on_screen(
        routine, paths, in_lines=in_lines, at_first=at_first, few_minutes=few_minutes
    )
    return 0


def _devices(options: argparse.Namespace) -> int:
    from trainer.sound.devices import device_table, list_devices
    from trainer.sound.process import quiet_stderr

    with quiet_stderr(user_paths(os.environ).log_file):
        devices = list_devices()
    if options.json:
        print(json.dumps([asdict(device) for device in devices], indent=2))
    else:
        print(device_table(devices))
    return 0


def _calibrate(options: argparse.Namespace) -> int:
    from trainer.app.devices_set import devices_set
    from trainer.sound.calibrate import measure_round_trip, remember_round_trip
    from trainer.sound.device_port import open_port

    paths = user_paths(os.environ)
    port = open_port(devices_set(paths), log_path=paths.log_file)

    def wait_until(frame: int) -> None:
        while port.alive and port.heard_frame() < frame:
            time.sleep(0.02)

    try:
        measured = measure_round_trip(port, wait_until)
    finally:
        port.close()
    if measured is None:
        assumed_ms = 1000 * port.round_trip_frames / port.sample_rate_hz
        raise TrainerError(
            "The microphone didn't hear the loudspeaker. Take headphones off, turn the volume up, "
            f"and try again; with headphones {assumed_ms:.0f} ms are assumed, the device's own "
            "figure."
        )
    remember_round_trip(paths.calibration_file, port.name, measured)
    rate = port.sample_rate_hz
    found = {
        "devices": port.name,
        "round_trip_ms": round(1000 * measured.frames / rate, 2),
        "spread_ms": round(1000 * measured.spread_frames / rate, 2),
    }
    if options.json:
        print(json.dumps(found, indent=2))
    else:
        print(
            f"{port.name}: {found['round_trip_ms']} ms there and back, "
            f"within {found['spread_ms']} ms. Remembered."
        )
    return 0


def _microphone(_options: argparse.Namespace) -> int:
    from contextlib import closing

    from trainer.app.devices_set import devices_set
    from trainer.app.microphone_policy import keep_check
    from trainer.app.open_session import local_now
    from trainer.session.microphone_check import SoundCheck
    from trainer.session.view import CheckStep
    from trainer.sound.device_port import open_port

    paths = user_paths(os.environ)
    with closing(open_port(devices_set(paths), log_path=paths.log_file)) as port:
        check = SoundCheck(port)
        said = ""
        while (view := check.view()).step is not CheckStep.DONE:
            if not port.alive:
                raise TrainerError("The sound device went away: begin again when it is back.")
            if view.words != said:
                said = view.words
                print(said, flush=True)
            check.tick()
            time.sleep(0.02)
        keep_check(paths.calibration_file, port, local_now(), view.findings)
    print(view.words)
    return 1 if view.findings else 0
