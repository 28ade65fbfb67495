"""A stand-in for the device library: answers as sounddevice does, and fails on request.

The messages are PortAudio's (Pa_GetErrorText) as sounddevice passes them on.
"""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest


class PortAudioError(Exception):
    pass


class FakeStream:
    def __init__(self, library: FakeLibrary, kind: str, options: dict[str, Any]) -> None:
        if library.refuses({**options, "kind": kind}):
            raise PortAudioError(library.refusal)
        self.kind, self.options = kind, options
        self.latency = {"duplex": (0.05, 0.06), "input": 0.05, "output": 0.06}[kind]
        self.calls: list[str] = []
        library.streams.append(self)

    def start(self) -> None:
        self.calls.append("start")

    def abort(self) -> None:
        self.calls.append("abort")

    def close(self) -> None:
        self.calls.append("close")


class FakeLibrary:
    PortAudioError = PortAudioError

    def __init__(
        self, devices: list[dict[str, Any]], refusal: str, refuses: Callable[[Any], bool]
    ) -> None:
        self.devices, self.refusal, self.refuses = devices, refusal, refuses
        self.streams: list[FakeStream] = []
        self.default = SimpleNamespace(device=[self._first("input"), self._first("output")])

    def Stream(self, **options: Any) -> FakeStream:  # noqa: N802 - the library's name
        return FakeStream(self, "duplex", options)

    def OutputStream(self, **options: Any) -> FakeStream:  # noqa: N802 - the library's name
        return FakeStream(self, "output", options)

    def InputStream(self, **options: Any) -> FakeStream:  # noqa: N802 - the library's name
        return FakeStream(self, "input", options)

    def check_input_settings(self, **options: Any) -> None:
        if self.refuses({**options, "kind": "input"}):
            raise PortAudioError(self.refusal)

    def query_hostapis(self) -> Any:
        return ({"name": "Core Audio"},)

    def query_devices(self, name: str | int | None = None, kind: str | None = None) -> Any:
        if kind is None:
            return tuple(self.devices)
        if name is None:
            name = self._first(kind)
        if isinstance(name, int):
            if not 0 <= name < len(self.devices):
                raise PortAudioError(f"Error querying device {name}")
            return self.devices[name]
        for found in self.devices:
            if name in found["name"] and found[f"max_{kind}_channels"]:
                return found
        raise ValueError(f"No {kind} device matching {name!r}")

    def _first(self, kind: str) -> int:
        places = [place for place, d in enumerate(self.devices) if d[f"max_{kind}_channels"]]
        return places[0] if places else -1


MAKES = {
    "microphone": {"name": "Desk microphone", "max_input_channels": 1, "max_output_channels": 0},
    "speakers": {"name": "Desk speakers", "max_input_channels": 0, "max_output_channels": 2},
    "headset": {"name": "Headset", "max_input_channels": 1, "max_output_channels": 1},
}

LibraryOf = Callable[..., FakeLibrary]


@pytest.fixture
def library_of() -> LibraryOf:
    """library_of('microphone', 'speakers', refusal='…', refuses=…): a computer with these."""

    def make(
        *names: str, refusal: str = "", refuses: Callable[[Any], bool] | None = None
    ) -> FakeLibrary:
        common = {"hostapi": 0, "default_samplerate": 44100.0}
        devices = [{**MAKES[name], **common, "index": at} for at, name in enumerate(names)]
        return FakeLibrary(devices, refusal, refuses or (lambda _options: bool(refusal)))

    return make
