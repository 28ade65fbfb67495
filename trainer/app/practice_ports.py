"""The sound port a session is practised on: the devices, or the played-in flutist's."""

from __future__ import annotations

from collections.abc import Callable

from trainer.app.devices_set import devices_set
from trainer.app.paths import Paths
from trainer.app.simulated_flutist import SimulatedFlutist, SingingPort
from trainer.errors import SoundError
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES
from trainer.session.round_begins import RoundBegins
from trainer.sound.calibrate import remembered_round_trip
from trainer.sound.device_port import DevicePort, open_port
from trainer.sound.port import SoundPort
from trainer.sound.simulated import PacedPort
from trainer.sound.sung import SungPort


def practice_port(
    paths: Paths, player: str | None
) -> tuple[SoundPort, Callable[[RoundBegins], None]]:
    """The sound port, and who is told of each round; `player`: the name of an example's habits."""
    if player is None:
        return open_practice_port(paths), lambda _: None
    port = _singing_port(paths)
    return port, SimulatedFlutist(Flutist(EXAMPLES[player]), port).round_begins


def open_practice_port(paths: Paths) -> DevicePort:
    """The devices' port, with the round trip measured for them once by `trainer calibrate`.

    Where there is no device, practice goes on in silence until there is.
    """

    def measured(name: str, rate_hz: int) -> float | None:
        known = remembered_round_trip(paths.calibration_file, name, rate_hz)
        return None if known is None else known.frames

    wanted = devices_set(paths)
    return open_port(wanted, log_path=paths.log_file, measured=measured, or_silence=True)


def _singing_port(paths: Paths) -> SingingPort:
    """The flutist through the loudspeaker, or in silence where there is none."""
    try:
        return SungPort(open_port(devices_set(paths, listens=False), log_path=paths.log_file))
    except SoundError:
        return PacedPort()
