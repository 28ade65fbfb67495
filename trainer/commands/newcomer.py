"""The first morning on the real devices: asked once, before there is anything to come back to."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

from trainer.app.first_run import FirstMorning
from trainer.app.paths import Paths
from trainer.app.settings import Settings, write_settings
from trainer.sound.calibrate import RoundTrip, measure_round_trip, remember_round_trip
from trainer.sound.device_port import DevicePort

POLL_S = 0.02
"""So often is looked whether the measuring is over."""


class GivenUpError(Exception):
    """The newcomer went past the measuring."""


def meet(paths: Paths, port: DevicePort, *, in_lines: bool) -> Settings | None:
    """Ask the newcomer, and write down what was said; None when they left.

    Raises TrainerError when it can't be written.
    """
    morning = FirstMorning(port, Settings(spoken_lines=in_lines), _measuring(port))
    if not (_asked_in_lines(morning) if in_lines else _asked_on_screen(morning)):
        return None
    settings = replace(morning.settings, spoken_lines=in_lines)
    if morning.round_trip is not None:
        remember_round_trip(paths.calibration_file, port.name, morning.round_trip)
    write_settings(paths.config_file, settings)
    return settings


def _asked_on_screen(morning: FirstMorning) -> bool:
    from trainer.screens.first_run_screen import FirstMorningApp

    return bool(FirstMorningApp(morning).run())


def _asked_in_lines(morning: FirstMorning) -> bool:
    from trainer.screens.keyboard import keys
    from trainer.screens.lines import first_morning_in_lines

    with keys() as read_key:
        return first_morning_in_lines(morning, read_key, print)


def _measuring(port: DevicePort) -> Callable[[Callable[[], bool]], RoundTrip | None]:
    """Measuring of the delay that ends when it is given up, or when the device goes away."""

    def measure(given_up: Callable[[], bool]) -> RoundTrip | None:
        def wait_until(frame: int) -> None:
            while port.heard_frame() < frame:
                if given_up() or not port.alive:
                    raise GivenUpError
                time.sleep(POLL_S)

        try:
            return measure_round_trip(port, wait_until)
        except GivenUpError:
            port.hush(port.now_frame())
            return None

    return measure
