"""The devices a newcomer's first morning is about: checked, measured, and written down."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from functools import partial

from trainer.app.first_run import Devices, Measure
from trainer.app.microphone_policy import keep_check
from trainer.app.open_session import local_now
from trainer.app.paths import Paths
from trainer.app.practice_ports import open_practice_port
from trainer.errors import SoundError
from trainer.session.microphone_check import SoundCheck
from trainer.sound.calibrate import RoundTrip, measure_round_trip, remember_round_trip
from trainer.sound.device_port import DevicePort
from trainer.sound.port import SoundPort

POLL_S = 0.02
"""So often is looked whether the measuring is over."""


class GivenUpError(Exception):
    """The newcomer went past the measuring."""


def newcomers_devices(paths: Paths) -> Devices:
    """The computer's own."""
    port = open_practice_port(paths)
    return devices_on(port, _measuring(port))


def devices_on(port: SoundPort, measure: Measure) -> Devices:
    """Devices behind a port."""
    return Devices(port, partial(SoundCheck, port), measure)


def remember_devices(paths: Paths, port: SoundPort, round_trip: RoundTrip | None) -> None:
    """Write down what was measured, and that the microphone was looked at.

    Raises SoundError where what was measured can't be written.
    """
    if round_trip is not None:
        remember_round_trip(paths.calibration_file, port.name, round_trip)
    with suppress(SoundError):  # asked again at worst
        keep_check(paths.calibration_file, port, local_now(), ())


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
