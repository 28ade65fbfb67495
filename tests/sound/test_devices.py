"""The list of devices, as data and as a table."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

import pytest

from trainer.errors import SoundError
from trainer.sound.devices import device_table, list_devices

if TYPE_CHECKING:
    from tests.sound.conftest import LibraryOf


def test_every_device_is_listed_with_what_it_can_do(library_of: LibraryOf) -> None:
    devices = list_devices(library_of("speakers", "microphone", "headset"))
    assert asdict(devices[1]) == {
        "index": 1,
        "name": "Desk microphone",
        "system": "Core Audio",
        "input_channels": 1,
        "output_channels": 0,
        "rate_hz": 44100,
        "default_input": True,
        "default_output": False,
    }
    assert [device.default_output for device in devices] == [True, False, False]


def test_the_table_says_which_are_used(library_of: LibraryOf) -> None:
    assert device_table(list_devices(library_of("speakers", "microphone"))).splitlines() == [
        "no.  device           in  out  rate   sound system  used for",
        "0    Desk speakers    –   2    44100  Core Audio    loudspeaker",
        "1    Desk microphone  1   –    44100  Core Audio    microphone",
    ]


def test_one_device_may_be_both(library_of: LibraryOf) -> None:
    assert device_table(list_devices(library_of("headset"))).endswith("microphone and loudspeaker")


def test_a_computer_without_sound(library_of: LibraryOf) -> None:
    assert list_devices(library_of()) == ()
    assert "no sound device" in device_table(())


def test_a_sound_system_that_fails_is_said_in_words(
    library_of: LibraryOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    library = library_of("headset")

    def fail() -> None:
        raise library.PortAudioError("Connection refused")

    monkeypatch.setattr(library, "query_hostapis", fail)
    with pytest.raises(SoundError, match="sound server is gone"):
        list_devices(library)
