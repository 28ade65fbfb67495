"""The port that keeps an engine going, with engines and a clock in the test's hand."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from trainer.errors import SoundError
from trainer.sound import device_port
from trainer.sound.board import shared_board
from trainer.sound.device_port import (
    HANGS_WORDS,
    HEARD_WORDS,
    LOST_WORDS,
    SLEPT_WORDS,
    DevicePort,
)
from trainer.sound.engine import Answer, Hush, OpenedStream, Order, Play, Refused
from trainer.sound.port import REMEMBERED_S
from trainer.sound.stream import FLAGS, Wanted

RATE = 48000
HEADSET = OpenedStream("headset", True, RATE, 0.04, 0.06)
DESK = OpenedStream("desk speakers", False, 44100, 0.0, 0.05)


class Clock:
    now_s = 50.0

    def __call__(self) -> float:
        return self.now_s


class PretendEngine:
    turns = True

    def __init__(self, answer: Answer | None, memory: int, clock: Clock) -> None:
        self.board = shared_board(memory)
        self.orders: list[Order] = []
        self.ended = False
        self._answer, self._clock = answer, clock

    def turn(self, frames: int, heard: np.ndarray | None = None) -> None:
        hum = np.full(frames, 1e-4, np.float32)
        self.board.microphone.write(hum if heard is None else heard)
        self.board.turned(frames, self._clock())

    def answer(self, limit_s: float) -> Answer | None:
        if self._answer is None:
            self._clock.now_s += limit_s
        if isinstance(self._answer, OpenedStream) and self.turns:
            self.board.turned(0, self._clock())
        return self._answer

    def tell(self, order: Order) -> None:
        self.orders.append(order)

    def running(self) -> bool:
        return not self.ended

    def end(self) -> None:
        self.ended = True


class Desk:
    """A port, its clock, and the engines it started; `answers` says what comes of each."""

    def __init__(self) -> None:
        self.clock = Clock()
        self.engines: list[PretendEngine] = []
        self.answers: list[Answer | None] = []
        self.port = DevicePort(
            measured=lambda name, _rate_hz: 3000.0 if name == "desk set" else None,
            launch=self._launch,
            clock_s=self.clock,
            memory_s=2.0,
        )

    @property
    def engine(self) -> PretendEngine:
        return self.engines[-1]

    def pass_time(self, seconds: float, *, turning: bool = True) -> None:
        for _ in range(round(seconds / 0.1)):
            self.clock.now_s += 0.1
            if turning and self.port.alive:
                self.engine.turn(RATE // 10)
            self.port.look()

    def said(self) -> list[str]:
        return [fault.what for fault in self.port.faults()]

    def _launch(self, _wanted: Wanted, memory: int, _log: Path | None) -> PretendEngine:
        answer = self.answers.pop(0) if self.answers else HEADSET
        self.engines.append(PretendEngine(answer, memory, self.clock))
        return self.engine


@pytest.fixture
def desk() -> Iterator[Desk]:
    desk = Desk()
    yield desk
    desk.port.close()


def test_the_device_is_known_once_it_is_open(desk: Desk) -> None:
    assert not desk.port.alive
    desk.port.start()
    port = desk.port
    assert (port.name, port.listens, port.sample_rate_hz) == ("headset", True, RATE)
    assert port.alive
    assert port.assumed
    assert port.round_trip_frames == round(0.1 * RATE)


def test_a_measured_round_trip_is_no_assumption(desk: Desk) -> None:
    desk.answers = [OpenedStream("desk set", True, RATE, 0.04, 0.06)]
    desk.port.start()
    assert not desk.port.assumed
    assert desk.port.round_trip_frames == 3000


def test_reads_are_moved_by_the_round_trip(desk: Desk) -> None:
    desk.port.start()
    song = np.arange(10_000, dtype=np.float32)
    desk.engine.turn(10_000, song)
    assert desk.port.now_frame() == 10_000
    assert desk.port.heard_frame() == 10_000 - 4800
    np.testing.assert_array_equal(desk.port.read(100, 200), song[4900:5000])
    desk.port.lengthen_round_trip(-800)
    assert desk.port.heard_frame() == 6000
    assert not desk.port.assumed


def test_what_sounds_lies_behind_what_was_handed_over(desk: Desk) -> None:
    desk.port.start()
    desk.engine.turn(9600)
    assert desk.port.audible_frame() == 9600 - round(4800 * 0.6)
    desk.clock.now_s += 0.02
    assert desk.port.audible_frame() == 9600 + 960 - round(4800 * 0.6)
    assert desk.port.now_frame() == 9600


def test_orders_go_to_the_engine(desk: Desk) -> None:
    desk.port.play(np.ones(3, np.float32), 5)  # nobody is there yet
    desk.port.start()
    desk.port.play(np.ones(3, np.float32), 7)
    desk.port.hush(9)
    played, hushed = desk.engine.orders
    assert isinstance(played, Play)
    assert played.at_frame == 7
    assert hushed == Hush(9)


def test_a_device_that_falls_silent_is_replaced_and_the_clock_goes_on(desk: Desk) -> None:
    desk.port.start()
    desk.pass_time(1.0)
    first = desk.engine
    refusal = Refused("There is no sound device; plug one in.")
    desk.answers = [refusal, refusal, DESK]
    desk.pass_time(0.7, turning=False)
    assert desk.port.alive
    desk.pass_time(0.2, turning=False)
    assert not desk.port.alive
    assert first.ended
    assert desk.said() == [LOST_WORDS]
    assert desk.port.now_frame() == RATE
    desk.pass_time(3.0)
    assert desk.said() == [LOST_WORDS, "The sound is back: desk speakers."]
    assert len(desk.engines) == 4
    assert (desk.port.listens, desk.port.sample_rate_hz) == (False, 44100)
    assert RATE < desk.port.now_frame() <= 2 * RATE


def test_an_engine_that_dies_is_replaced_at_once(desk: Desk) -> None:
    desk.port.start()
    desk.pass_time(1.0)
    desk.engine.ended = True
    desk.pass_time(0.1)
    assert not desk.port.alive
    desk.pass_time(0.1)
    assert desk.port.alive
    assert desk.said() == [LOST_WORDS, "The sound is back: headset."]


def test_a_computer_that_stood_still_gets_a_new_stream(desk: Desk) -> None:
    desk.port.start()
    desk.pass_time(1.0)
    desk.clock.now_s += 3600
    desk.port.look()
    assert not desk.port.alive
    desk.pass_time(0.1)
    assert desk.port.alive
    assert desk.said() == [SLEPT_WORDS, "The sound is back: headset."]


def test_a_turn_cut_off_in_the_middle_leaves_no_gap_between_the_clocks(desk: Desk) -> None:
    desk.port.start()
    desk.engine.turn(4800)
    desk.engine.board.microphone.write(np.ones(512, np.float32))  # and dies before it counts
    desk.port.restart()
    desk.port.look()
    assert desk.port.now_frame() == 5312 == desk.engine.board.microphone.end_frame


def test_a_slipped_stream_is_restarted_without_a_word(desk: Desk) -> None:
    desk.port.start()
    desk.pass_time(1.0)
    desk.engine.board.note_fault(0b0101, 0)
    assert desk.port.slipped
    said = desk.said()
    assert said == [FLAGS[0][1], FLAGS[2][1]]
    desk.port.restart()
    assert not desk.port.alive
    desk.pass_time(0.1)
    assert desk.port.alive
    assert not desk.port.slipped
    assert desk.said() == said
    assert len(desk.engines) == 2


def test_a_device_that_can_t_be_opened_says_why(desk: Desk) -> None:
    desk.answers = [Refused("Plug it in."), None]
    with pytest.raises(SoundError, match="Plug it in"):
        desk.port.start()
    with pytest.raises(SoundError, match="doesn't answer"):
        desk.port.start()
    assert desk.engine.ended
    assert "restart it" in HANGS_WORDS


def test_a_stream_that_is_open_but_stands_is_not_back(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(device_port, "TURN_LOOK_S", 0.0)
    desk.port.start()
    monkeypatch.setattr(PretendEngine, "turns", False)
    desk.engine.ended = True
    desk.pass_time(3.0, turning=False)
    assert not desk.port.alive
    assert desk.said() == [LOST_WORDS]
    monkeypatch.setattr(PretendEngine, "turns", True)
    desk.pass_time(1.5)
    assert desk.said() == [LOST_WORDS, "The sound is back: headset."]


def test_closing_ends_the_engine_and_removes_the_board(desk: Desk) -> None:
    desk.port.start()
    desk.port.close()
    desk.port.close()
    assert desk.engine.ended
    assert not desk.port.alive
    desk.port.look()
    assert len(desk.engines) == 1


def test_without_a_device_the_clock_runs_in_silence_until_there_is_one(desk: Desk) -> None:
    desk.answers = [Refused("Plug it in."), Refused("Plug it in."), HEADSET, HEADSET]
    assert desk.port.listens  # nobody knows yet
    desk.port.look()
    assert desk.port.alive
    assert not desk.port.listens
    assert desk.said() == ["Plug it in. Until then practice goes on without sound."]
    desk.pass_time(4.2, turning=False)
    assert not desk.port.slipped
    desk.pass_time(4.0, turning=False)
    assert desk.port.slipped  # a device was found: the session restarts the port where it suits
    assert desk.port.name == "no sound device"
    desk.port.restart()
    desk.pass_time(0.1)
    assert desk.port.name == "headset"
    assert desk.said()[1:] == ["The sound is back: headset."]


def test_a_device_gone_for_long_leaves_silence(desk: Desk) -> None:
    desk.port.start()
    desk.pass_time(1.0)
    desk.answers = [Refused("Plug it in.")] * 9
    desk.engine.ended = True
    desk.pass_time(12.0, turning=False)
    assert desk.port.alive
    assert not desk.port.listens
    assert desk.said()[-1] == "Plug it in. Until then practice goes on without sound."


def test_a_moved_round_trip_is_told_unless_it_was_only_assumed(desk: Desk) -> None:
    desk.port.start()
    desk.port.lengthen_round_trip(2048)
    assert desk.said() == []
    desk.port.lengthen_round_trip(10)
    assert desk.said() == []
    desk.port.lengthen_round_trip(-2048)
    (said,) = desk.said()
    assert "takes a little less on its way" in said
    assert not desk.port.faults()[0].lost


def test_a_microphone_that_gives_nothing_at_all_is_told_of_once_until_it_is_heard(
    desk: Desk,
) -> None:
    desk.port.start()

    def pass_time(level: float) -> None:
        for _ in range(60):
            desk.clock.now_s += 0.1
            desk.engine.turn(4800, np.full(4800, level, np.float32))
            desk.port.look()

    pass_time(0.0)
    (said,) = desk.said()
    assert "no sound at all" in said
    pass_time(0.01)
    pass_time(0.0)
    assert desk.said() == [said, HEARD_WORDS]
    assert not any(fault.lost for fault in desk.port.faults())


def test_another_channel_is_told_of(desk: Desk) -> None:
    desk.port.start()
    desk.engine.board.listen_to(1)
    desk.pass_time(1.0)
    (said,) = desk.said()
    assert "other channel" in said


def test_the_rooms_sound_is_kept_for_a_round_alone(desk: Desk) -> None:
    """Before and after it only the last seconds; in it everything."""
    port = desk.port = DevicePort(launch=desk._launch, clock_s=desk.clock, memory_s=60.0)
    port.start()

    def kept_s() -> float:
        everything = port.read(0, port.heard_frame())
        return float(np.count_nonzero(everything)) / RATE

    desk.pass_time(15.0)
    assert kept_s() == pytest.approx(REMEMBERED_S, abs=0.5)
    port.keep_from(port.heard_frame())
    desk.pass_time(20.0)
    assert kept_s() == pytest.approx(20.0, abs=0.5)
    port.keep_from(None)
    desk.pass_time(0.1)
    assert kept_s() == pytest.approx(REMEMBERED_S, abs=0.5)
    port.close()
    assert kept_s() == 0.0
