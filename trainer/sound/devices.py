"""The microphones and loudspeakers of this computer, as facts and as a table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from trainer.sound.portaudio import device_library, explained


@dataclass(frozen=True)
class Device:
    """One device as the sound system names it."""

    index: int
    """Its number, which may change when something is plugged in."""
    name: str
    system: str
    """The sound system that offers it: 'ALSA', 'Core Audio', 'Windows WASAPI'."""
    input_channels: int
    output_channels: int
    rate_hz: int
    """The rate it prefers."""
    default_input: bool
    default_output: bool


def list_devices(library: Any = None) -> tuple[Device, ...]:
    """Every device, in the sound system's order; empty when there is none.

    Raises SoundError when PortAudio is missing or the sound system doesn't answer.
    """
    library = library or device_library()
    try:
        systems = library.query_hostapis()
        default_input, default_output = _defaults(library)
        return tuple(
            Device(
                index=found["index"],
                name=found["name"],
                system=systems[found["hostapi"]]["name"],
                input_channels=found["max_input_channels"],
                output_channels=found["max_output_channels"],
                rate_hz=round(found["default_samplerate"]),
                default_input=found["index"] == default_input,
                default_output=found["index"] == default_output,
            )
            for found in library.query_devices()
        )
    except library.PortAudioError as error:
        raise explained("The devices can't be listed", error) from error


def device_table(devices: tuple[Device, ...]) -> str:
    """The devices as plain text, one a line, the ones in use marked in words."""
    if not devices:
        return "There is no sound device. Plug one in, or start the sound server."
    rows: list[tuple[str, ...]] = [
        ("no.", "device", "in", "out", "rate", "sound system", "used for")
    ]
    rows += [_row(device) for device in devices]
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return "\n".join(_line(row, widths) for row in rows)


def _defaults(library: Any) -> tuple[int, int]:
    microphone, speaker = library.default.device
    return int(microphone), int(speaker)


def _row(device: Device) -> tuple[str, ...]:
    used = [
        words
        for words, is_used in (
            ("microphone", device.default_input),
            ("loudspeaker", device.default_output),
        )
        if is_used
    ]
    return (
        str(device.index),
        device.name,
        str(device.input_channels or "–"),
        str(device.output_channels or "–"),
        str(device.rate_hz),
        device.system,
        " and ".join(used),
    )


def _line(row: tuple[str, ...], widths: list[int]) -> str:
    return "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
