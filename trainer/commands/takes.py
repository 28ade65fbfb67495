"""The commands for takes: keep each round's sound, list what is kept, hear it again."""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.app.paths import Paths, user_paths

if TYPE_CHECKING:
    from trainer.commands.family import Commands

MB = 1e6
"""Bytes."""


def add_to(commands: Commands) -> None:
    """Add this command to the command line."""
    takes = commands.add_parser("takes", help="the sound of your rounds: keep it, hear it again")
    what = takes.add_mutually_exclusive_group()
    what.add_argument("--keep", choices=("yes", "no"), help="keep each round's sound from now on")
    what.add_argument("--play", type=Path, metavar="FILE", help="play a take, or any sound file")
    takes.add_argument("--limit", type=float, metavar="MB", help="all takes together, at most")
    takes.add_argument(
        "--speed", type=float, default=1.0, help="0.5 is half as fast, at the same pitch"
    )
    takes.set_defaults(command=_takes)


def _takes(options: argparse.Namespace) -> int:
    if options.play is not None:
        return _play(options.play, options.speed)
    from dataclasses import replace

    from trainer.app.settings import read_settings, write_settings
    from trainer.errors import TrainerError
    from trainer.sound.kept_takes import kept_takes

    paths = user_paths(os.environ)
    settings = read_settings(paths.config_file)
    if options.keep is not None:
        settings = replace(settings, keep_takes=options.keep == "yes")
    if options.limit is not None:
        if options.limit <= 0:
            raise TrainerError("--limit: write a number of megabytes above 0.")
        settings = replace(settings, takes_limit_mb=options.limit)
    if options.keep is not None or options.limit is not None:
        write_settings(paths.config_file, settings)
    takes = kept_takes(paths.takes)
    for take in takes:
        print(f"{take.stat().st_size / MB:6.1f} MB  {take.name}")
    size_mb = sum(take.stat().st_size for take in takes) / MB
    keeps = "Takes are kept" if settings.keep_takes else "Takes are not kept (--keep yes)"
    print(
        f"{keeps}; {len(takes)} in {paths.takes}, {size_mb:.1f} of "
        f"{settings.takes_limit_mb:.0f} MB. The oldest make room."
    )
    return 0


def _play(file: Path, speed: float) -> int:
    from trainer.errors import TrainerError

    if not 0.25 <= speed <= 2.0:
        raise TrainerError("--speed: write a number from 0.25 to 2.")
    paths = user_paths(os.environ)
    play_takes(paths, [file if file.exists() else paths.takes / file], speed)
    return 0


def play_takes(paths: Paths, files: Sequence[Path], speed: float = 1.0) -> None:
    """Play takes one after the other through the loudspeaker, slower at the same pitch."""
    from contextlib import closing

    from trainer.app.devices_set import devices_set
    from trainer.sound.device_port import open_port
    from trainer.sound.kept_takes import slowed, to_hear_again
    from trainer.sound.soundfile_io import read_sound

    with closing(open_port(devices_set(paths), log_path=paths.log_file)) as port:
        rate = port.sample_rate_hz
        sounds = [to_hear_again(read_sound(file, rate).samples) for file in files]
        end_frame = port.now_frame() + rate // 5
        for sound in sounds:
            heard = sound if speed == 1.0 else slowed(sound, rate, speed)
            port.play(heard, end_frame)
            end_frame += heard.size + rate
        while port.alive and port.audible_frame() < end_frame - rate:
            time.sleep(0.05)
