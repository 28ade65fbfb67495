"""The first morning on the real devices: asked once, before there is anything to come back to."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace

from trainer.app.first_run import Devices, FirstMorning
from trainer.app.leaving import leaving_at_signals
from trainer.app.paths import Paths
from trainer.app.settings import Settings, write_settings
from trainer.app.sound_opening import SoundOpening


def meet(paths: Paths, *, in_lines: bool) -> Settings | None:
    """Ask the newcomer, and write down what was said; None when they left.

    Raises TrainerError when it can't be written.
    """

    def make_ready() -> Devices:
        from trainer.app.newcomers_devices import newcomers_devices

        return newcomers_devices(paths)

    with closing(SoundOpening(make_ready)) as opening:
        morning = FirstMorning(opening.opened, Settings(spoken_lines=in_lines))
        if not (_asked_in_lines if in_lines else _asked_on_screen)(morning, opening):
            return None
        settings = replace(morning.settings, spoken_lines=in_lines)
        write_settings(paths.config_file, settings)
        devices = opening.opened()
        if devices is not None:
            from trainer.app.newcomers_devices import remember_devices

            remember_devices(paths, devices.port, morning.round_trip)
        return settings


def _asked_on_screen(morning: FirstMorning, opening: SoundOpening[Devices]) -> bool:
    from trainer.screens.first_run_screen import FirstMorningApp

    app = FirstMorningApp(morning, opening.begin)
    with leaving_at_signals(app.leave_soon):
        return bool(app.run())


def _asked_in_lines(morning: FirstMorning, opening: SoundOpening[Devices]) -> bool:
    from trainer.screens.keyboard import keys
    from trainer.screens.lines import first_morning_in_lines

    opening.begin()
    with keys() as read_key:
        return first_morning_in_lines(morning, read_key, print)
