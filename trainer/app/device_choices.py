"""The microphones and loudspeakers to choose from, by the names that find them again."""

from __future__ import annotations

from contextlib import suppress

from trainer.app.settings import THE_SYSTEMS_OWN
from trainer.errors import SoundError


def device_choices() -> dict[str, tuple[str, ...]]:
    """What 'microphone' and 'loudspeaker' may be set to now; takes a second."""
    from trainer.sound.devices_now import devices_now

    found = {"microphone": [THE_SYSTEMS_OWN], "loudspeaker": [THE_SYSTEMS_OWN]}
    with suppress(SoundError):
        for device in devices_now():
            name = f"{device.name}, {device.system}"
            if device.input_channels:
                found["microphone"].append(name)
            if device.output_channels:
                found["loudspeaker"].append(name)
    return {setting: tuple(dict.fromkeys(names)) for setting, names in found.items()}
