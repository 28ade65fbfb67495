"""The stream's own reckoning, turned by hand; the real device is in test_real_stream."""

from __future__ import annotations

from types import ModuleType, SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from trainer.errors import SoundError
from trainer.sound import portaudio
from trainer.sound.board import Board, private_board
from trainer.sound.portaudio import device_library, explained
from trainer.sound.stream import (
    WAY_MOVED,
    OpenStream,
    Turner,
    Wanted,
    fault_words,
    open_stream,
)

if TYPE_CHECKING:
    from tests.sound.conftest import FakeLibrary, LibraryOf

RATE = 48000


def flags(*raised: str) -> SimpleNamespace:
    every = ("input_overflow", "input_underflow", "output_underflow", "output_overflow")
    return SimpleNamespace(**{flag: flag in raised for flag in every})


def turn(turner: Turner, heard: Any, channels: int = 2, status: Any = None) -> Any:
    out = np.full((len(heard), channels), 9.0, np.float32)
    turner.turn(np.asarray(heard, np.float32).reshape(-1, 1), out, status)
    return out


def turner_and_board() -> tuple[Turner, Board]:
    board = private_board(5 * RATE)
    return Turner(board, RATE, clock_s=lambda: 50.0), board


def opened(library: FakeLibrary, **wanted: Any) -> tuple[OpenStream, Board]:
    board = private_board(5 * RATE)
    return open_stream(Wanted(**wanted), board, library, clock_s=lambda: 50.0), board


def test_both_channels_get_the_mix_and_the_microphone_is_kept() -> None:
    turner, board = turner_and_board()
    turner.mixer.play(np.full(50, 0.5, np.float32), 10)
    song = np.random.default_rng(1).uniform(-1, 1, 10_000)
    out = turn(turner, song)
    np.testing.assert_array_equal(np.flatnonzero(out[:, 0]), np.arange(10, 60))
    np.testing.assert_array_equal(out[:, 0], out[:, 1])
    assert board.played_frame == board.microphone.end_frame == 10_000
    assert board.turned_s == 50.0
    np.testing.assert_array_equal(board.microphone.read(0, 10_000), song.astype(np.float32))


def test_a_microphone_on_the_second_channel_is_found() -> None:
    turner, board = turner_and_board()
    song = np.random.default_rng(1).uniform(-0.1, 0.1, (RATE, 2)).astype(np.float32)
    song[:, 0] *= 1e-4
    for begin in range(0, RATE, 480):
        block = song[begin : begin + 480]
        turner.turn(block, np.zeros((480, 2), np.float32), None)
    assert board.channel == 1
    heard = board.microphone.read(RATE // 2, RATE)
    np.testing.assert_array_equal(heard, song[RATE // 2 :, 1])


def test_two_alike_channels_leave_the_first() -> None:
    turner, board = turner_and_board()
    song = np.random.default_rng(1).uniform(-0.1, 0.1, (4800, 2)).astype(np.float32)
    turner.turn(song, np.zeros((4800, 2), np.float32), None)
    assert board.channel == 0
    np.testing.assert_array_equal(board.microphone.read(0, 4800), song[:, 0])


def test_without_a_microphone_the_clock_still_runs() -> None:
    turner, board = turner_and_board()
    out = np.full((5000, 1), 9.0, np.float32)
    turner.turn(None, out, None)
    assert board.played_frame == board.microphone.end_frame == 5000
    assert not board.microphone.read(0, 5000).any()
    assert not out.any()


def test_flags_are_noted_with_their_frame() -> None:
    turner, board = turner_and_board()
    turn(turner, np.zeros(RATE), status=flags("input_underflow"))  # still settling in
    turn(turner, np.zeros(480), status=flags("input_overflow", "output_underflow"))
    turn(turner, np.zeros(RATE), status=flags("input_overflow"))  # the same trouble still
    turn(turner, np.zeros(480), status=flags("input_overflow"))
    turn(turner, np.zeros(480), status=flags())
    found = [(frame, fault_words(raised)) for frame, raised in board.faults()]
    lost = "The computer was too busy: some of what you played was lost."
    broke = "The computer was too busy: the click or the partner broke off."
    assert found == [(RATE, [lost, broke]), (2 * RATE + 480, [lost])]


def test_a_real_fault_counts_even_while_the_stream_settles_in() -> None:
    turner, board = turner_and_board()
    turn(turner, np.zeros(480), status=flags("input_underflow", "output_underflow"))
    assert board.fault_count == 1


@pytest.mark.parametrize(("pause_s", "told"), [(0.15, True), (0.043, False)])
def test_a_way_that_moves_is_told_where_the_sound_thread_was_held_up(
    pause_s: float, told: bool
) -> None:
    board, now_s = private_board(20 * RATE), [50.0]
    turner = Turner(board, RATE, clock_s=lambda: now_s[0])
    for block in range(200):
        now_s[0] += pause_s if block == 150 else 0.043
        way_s = 0.171 if block >= 150 else 0.128
        turner.follow(SimpleNamespace(outputBufferDacTime=way_s, inputBufferAdcTime=0.0))
        turn(turner, np.zeros(2048))
    assert [(frame // 2048, flags) for frame, flags in board.faults()] == (
        [(150, WAY_MOVED)] if told else []
    )


def test_one_device_that_plays_and_listens_gets_one_stream(library_of: LibraryOf) -> None:
    library = library_of("headset")
    found, board = opened(library)
    (stream,) = library.streams
    assert stream.kind == "duplex"
    assert stream.calls == ["start"]
    assert stream.options["device"] == (0, 0)
    assert stream.options["channels"] == (1, 1)
    assert stream.options["samplerate"] == found.sample_rate_hz == RATE
    assert found.listens
    assert found.name == "Headset"
    assert (found.input_latency_s, found.output_latency_s) == (0.05, 0.06)
    stream.options["callback"](np.ones((100, 1)), np.zeros((100, 1)), 100, None, None)
    assert board.played_frame == board.microphone.end_frame == 100


def test_two_devices_get_a_stream_each_on_the_loudspeaker_s_clock(library_of: LibraryOf) -> None:
    library = library_of("microphone", "speakers")
    found, board = opened(library)
    played, heard = library.streams
    assert (played.kind, heard.kind) == ("output", "input")
    assert played.calls == heard.calls == ["start"]
    assert (played.options["device"], heard.options["device"]) == (1, 0)
    assert found.name == "Desk microphone and Desk speakers"
    heard.options["callback"](np.ones((300, 1), np.float32), 300, None, None)
    assert board.played_frame == 0
    played.options["callback"](np.zeros((100, 2), np.float32), 100, None, None)
    assert board.played_frame == board.microphone.end_frame == 100


def test_a_microphone_that_isn_t_wanted_stays_closed(library_of: LibraryOf) -> None:
    library = library_of("headset")
    found, _ = opened(library, listens=False)
    assert [stream.kind for stream in library.streams] == ["output"]
    assert not found.listens


def test_without_a_microphone_practice_goes_on(library_of: LibraryOf) -> None:
    library = library_of("speakers")
    found, board = opened(library)
    (stream,) = library.streams
    assert stream.kind == "output"
    assert not found.listens
    stream.options["callback"](np.zeros((100, 2), np.float32), 100, None, None)
    assert board.played_frame == 100


def test_a_microphone_that_can_t_be_opened_leaves_the_loudspeaker(library_of: LibraryOf) -> None:
    library = library_of(
        "headset", refusal=HOST + "'-50'", refuses=lambda options: options["kind"] != "output"
    )
    found, _ = opened(library)
    assert not found.listens
    assert "unheard" in found.words
    with pytest.raises(SoundError):
        opened(library, input_device="Headset")


def test_a_device_that_is_gone_is_told_and_the_systems_own_takes_its_place(
    library_of: LibraryOf,
) -> None:
    library = library_of("headset")
    found, _ = opened(library, input_device="Old interface", output_device="Old interface, ALSA")
    assert (found.name, found.listens) == ("Headset", True)
    assert "Old interface, ALSA is not there: the system's own loudspeaker" in found.words
    assert "Old interface is not there: the system's own microphone" in found.words
    assert opened(library, input_device="Headset")[0].words == ""


def test_a_device_that_refuses_the_rate_is_asked_for_its_own(library_of: LibraryOf) -> None:
    library = library_of(
        "headset", refusal=WRONG_RATE, refuses=lambda options: options["samplerate"] != 44100
    )
    assert opened(library)[0].sample_rate_hz == 44100


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
        opened(library_of("headset", refusal=refusal))


@pytest.mark.parametrize(
    ("present", "wanted", "words"),
    [
        ((), {}, "no sound device; plug one in"),
        (("microphone",), {}, "no sound device; plug one in"),
        ((), {"output_device": "Hall"}, "no sound device; plug one in"),
        (("headset", "speakers"), {"input_device": 1}, "'Desk speakers' has no input"),
        (("headset",), {"input_device": 7}, "plug one in"),
    ],
)
def test_a_device_that_isn_t_there_is_said_in_words(
    library_of: LibraryOf, present: tuple[str, ...], wanted: dict[str, Any], words: str
) -> None:
    with pytest.raises(SoundError, match=words):
        opened(library_of(*present), **wanted)


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
