"""The stream's own reckoning, turned by hand; the real device is in test_real_stream."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial
from types import ModuleType, SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from trainer.errors import SoundError
from trainer.sound import portaudio, stream
from trainer.sound.portaudio import device_library, explained
from trainer.sound.stream import StreamPort, answers_within, open_stream

if TYPE_CHECKING:
    from tests.sound.conftest import LibraryOf

RATE = 48000


class Clock:
    now_s = 50.0

    def __call__(self) -> float:
        return self.now_s


def flags(*raised: str) -> SimpleNamespace:
    every = ("input_overflow", "input_underflow", "output_underflow", "output_overflow")
    return SimpleNamespace(**{flag: flag in raised for flag in every})


def turn(port: StreamPort, heard: Any, channels: int = 2, status: Any = None) -> Any:
    out = np.full((len(heard), channels), 9.0, np.float32)
    port.turn(np.asarray(heard, np.float32).reshape(-1, 1), out, status)
    return out


class Device:
    """A stream that does nothing but remember."""

    def __init__(self) -> None:
        self.calls: list[str] = []
        self.start = partial(self.calls.append, "start")
        self.abort: Callable[[], Any] = partial(self.calls.append, "abort")
        self.close = partial(self.calls.append, "close")


def running(
    clock: Clock | None = None, round_trip_frames: int = 0, device: Device | None = None
) -> StreamPort:
    port = StreamPort(RATE, listens=True, clock_s=clock or Clock(), memory_s=5.0)
    port.attach(device or Device(), "desk", 0, round_trip_frames)
    return port


def test_both_channels_get_the_mix_and_the_microphone_is_kept() -> None:
    port = running(round_trip_frames=100)
    port.play(np.full(50, 0.5, np.float32), 10)
    song = np.random.default_rng(1).uniform(-1, 1, 10_000)
    out = turn(port, song)
    np.testing.assert_array_equal(np.flatnonzero(out[:, 0]), np.arange(10, 60))
    np.testing.assert_array_equal(out[:, 0], out[:, 1])
    assert port.now_frame() == 10_000
    assert port.heard_frame() == 9900
    np.testing.assert_allclose(port.read(0, 9900), song[100:].astype(np.float32))


def test_without_a_microphone_the_clock_still_runs() -> None:
    port = StreamPort(RATE, listens=False, clock_s=Clock())
    out = np.full((5000, 1), 9.0, np.float32)
    port.turn(None, out, None)
    assert port.now_frame() == port.heard_frame() == 5000
    assert not port.read(0, 5000).any()
    assert not out.any()


def test_flags_become_sentences_with_their_frame() -> None:
    port = running()
    turn(port, np.zeros(RATE), status=flags("input_underflow"))  # still settling in
    turn(port, np.zeros(480), status=flags("input_overflow", "output_underflow"))
    turn(port, np.zeros(RATE), status=flags("input_overflow"))  # the same trouble still
    turn(port, np.zeros(480), status=flags("input_overflow"))
    found = [(fault.frame, "what you played" in fault.what) for fault in port.faults()]
    assert found == [(RATE, True), (RATE, False), (2 * RATE + 480, True)]


def test_a_device_that_falls_silent_is_lost_once_and_may_come_back() -> None:
    clock = Clock()
    port = running(clock)
    turn(port, np.zeros(960))
    clock.now_s += 0.9
    assert port.alive
    clock.now_s += 0.2
    assert not port.alive
    assert not port.alive
    assert [(fault.frame, "stopped answering" in fault.what) for fault in port.faults()] == [
        (960, True)
    ]
    turn(port, np.zeros(960))
    assert port.alive
    assert port.slipped
    assert len(port.faults()) == 1


def test_a_real_fault_counts_even_while_the_stream_settles_in() -> None:
    port = running()
    turn(port, np.zeros(480), status=flags("input_underflow", "output_underflow"))
    assert port.slipped
    assert any("broke off" in fault.what for fault in port.faults())


def test_a_flag_that_means_nothing_to_us_is_no_fault() -> None:
    port = running()
    turn(port, np.zeros(RATE))
    turn(port, np.zeros(480), status=flags())
    assert not port.slipped
    assert port.faults() == ()


def test_a_restart_goes_on_from_the_same_frame_and_settles_in_again() -> None:
    device = Device()
    port = running(device=device)
    turn(port, np.zeros(RATE))
    assert not port.slipped
    turn(port, np.zeros(480), status=flags("output_underflow"))
    assert port.slipped
    assert not port.assumed
    assert port.restart()
    assert port.assumed
    assert not port.slipped
    assert device.calls == ["start", "abort", "start"]
    turn(port, np.zeros(480), status=flags("input_underflow"))
    assert not port.slipped
    assert port.now_frame() == RATE + 960
    assert len(port.faults()) == 1


def test_a_dead_device_can_t_be_restarted(monkeypatch: pytest.MonkeyPatch) -> None:
    never, device = threading.Event(), Device()
    device.abort = never.wait
    monkeypatch.setattr(stream, "CLOSE_LIMIT_S", 0.01)
    port = running(device=device)
    assert not port.restart()
    never.set()


def test_closing_stops_the_device_and_is_done_once() -> None:
    device = Device()
    port = running(device=device)
    port.close()
    port.close()
    assert device.calls == ["start", "abort", "close"]
    assert not port.alive
    assert port.faults() == ()


def test_closing_a_dead_device_returns(monkeypatch: pytest.MonkeyPatch) -> None:
    never, device = threading.Event(), Device()
    device.abort = never.wait
    forgotten: list[object] = []
    monkeypatch.setattr(stream, "CLOSE_LIMIT_S", 0.01)
    monkeypatch.setattr(stream, "forget_at_exit", forgotten.append)
    monkeypatch.setattr(stream, "device_library", lambda: "library")
    port = running(device=device)
    port.close()
    never.set()
    assert forgotten == ["library"]


def test_closing_a_device_that_complains_is_quiet() -> None:
    def complain() -> None:
        raise OSError("Error stopping stream: Unanticipated host error [-9999]")

    device = Device()
    device.abort = complain
    port = running(device=device)
    port.close()
    assert not port.alive


def test_work_is_waited_for() -> None:
    assert answers_within(5.0, lambda: None)


def test_the_system_s_own_devices_are_opened_together(library_of: LibraryOf) -> None:
    library = library_of("microphone", "speakers")
    port = open_stream(library=library)
    (opened,) = library.streams
    assert opened.kind == "duplex"
    assert opened.calls == ["start"]
    assert opened.options["device"] == (0, 1)
    assert opened.options["channels"] == (1, 2)
    assert opened.options["samplerate"] == port.sample_rate_hz == RATE
    assert port.listens
    assert port.name == "Desk microphone and Desk speakers"
    assert port.assumed
    assert port.round_trip_frames == round(0.11 * RATE)


def test_a_measured_round_trip_is_no_assumption(library_of: LibraryOf) -> None:
    port = open_stream(round_trip_frames=777, library=library_of("headset"))
    assert port.name == "Headset"
    assert not port.assumed
    assert port.round_trip_frames == 777


def test_without_a_microphone_practice_goes_on(library_of: LibraryOf) -> None:
    library = library_of("speakers")
    port = open_stream(library=library)
    (opened,) = library.streams
    assert opened.kind == "output"
    assert not port.listens
    assert port.round_trip_frames == 0
    opened.options["callback"](np.zeros((100, 2), np.float32), 100, None, None)
    assert port.now_frame() == 100


def test_a_device_that_refuses_the_rate_is_asked_for_its_own(library_of: LibraryOf) -> None:
    library = library_of(
        "headset", refusal=WRONG_RATE, refuses=lambda options: options["samplerate"] != 44100
    )
    assert open_stream(library=library).sample_rate_hz == 44100


WRONG_RATE = "Error opening Stream: Invalid sample rate [PaErrorCode -9997]"
HOST = "Error opening Stream: Unanticipated host error [PaErrorCode -9999]: "


@pytest.mark.parametrize(
    ("refusal", "words"),
    [
        (WRONG_RATE, "48000"),
        ("Error opening Stream: Invalid number of channels [PaErrorCode -9998]", "channels"),
        ("Error opening Stream: Device unavailable [PaErrorCode -9985]", "another program"),
        (HOST + "'Permission denied'", "allow this terminal the microphone"),
        (HOST + "'Connection refused'", "sound server is gone"),
        (HOST + "'-50'", "gave up"),
        ("something new", "something new"),
    ],
)
def test_a_refusal_is_said_in_words(library_of: LibraryOf, refusal: str, words: str) -> None:
    with pytest.raises(SoundError, match=words):
        open_stream(library=library_of("headset", refusal=refusal))


@pytest.mark.parametrize(
    ("present", "wanted", "words"),
    [
        ((), {}, "no sound device; plug one in"),
        (("microphone",), {}, "no sound device; plug one in"),
        (("headset",), {"output_device": "Hall"}, "no loudspeaker has this name"),
        (("headset",), {"input_device": "Hall"}, "no microphone has this name"),
        (("headset", "speakers"), {"input_device": 1}, "'Desk speakers' has no input"),
        (("headset",), {"input_device": 7}, "plug one in"),
    ],
)
def test_a_device_that_isn_t_there_is_said_in_words(
    library_of: LibraryOf, present: tuple[str, ...], wanted: dict[str, Any], words: str
) -> None:
    with pytest.raises(SoundError, match=words):
        open_stream(library=library_of(*present), **wanted)


def test_a_missing_library_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(_name: str) -> ModuleType:
        raise OSError("PortAudio library not found")

    monkeypatch.setattr(portaudio.importlib, "import_module", missing)
    monkeypatch.setattr(portaudio.sys, "platform", "linux")
    with pytest.raises(SoundError, match="apt install libportaudio2"):
        device_library()
    monkeypatch.setattr(portaudio.sys, "platform", "darwin")
    with pytest.raises(SoundError, match="brew install portaudio"):
        device_library()


def test_an_error_without_words_is_named() -> None:
    assert str(explained("It failed", RuntimeError())) == "It failed: RuntimeError."
