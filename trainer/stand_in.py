"""The played-in flutist at a session: plays each round into the port as a student would."""

from __future__ import annotations

from typing import Protocol

from trainer.player.flutist import Flutist
from trainer.session import RoundBegins, Session, Stage
from trainer.sound.port import Samples, SoundPort
from trainer.sound.simulated import SimulatedPort

TICK_S = 0.05


class SingingPort(SoundPort, Protocol):
    """A port at whose microphone somebody can be put."""

    def sing(self, samples: Samples, at_frame: int) -> None:
        """Let the microphone hear the samples from the frame on."""
        ...

    def fall_silent(self, from_frame: int) -> None:
        """Break off what is sung."""
        ...


class StandIn:
    """Takes the student's place at a port without a microphone."""

    def __init__(self, flutist: Flutist, port: SingingPort) -> None:
        self._flutist = flutist
        self._port = port
        self._rounds = 0

    def round_begins(self, begins: RoundBegins) -> None:
        """Play the round; what was still sounding of the one before breaks off."""
        self._rounds += 1
        performance = self._flutist.play(
            begins.sounding,
            begins.round.tempo_bpm,
            begins.round.tuning,
            self._port.sample_rate_hz,
            self._rounds,
        )
        lead_frames = round(performance.first_beat_s * self._port.sample_rate_hz)
        self._port.fall_silent(self._port.now_frame())
        self._port.sing(performance.samples, begins.first_beat_frame - lead_frames)


def play_through(session: Session, port: SimulatedPort) -> None:
    """Walk the whole routine as fast as the machine can, pressing the key where a student would."""
    tick_frames = round(TICK_S * port.sample_rate_hz)
    while (stage := session.view().stage) is not Stage.ENDED:
        if stage in (Stage.TODAY, Stage.READY, Stage.READING):
            session.advance()
        port.advance(tick_frames)
        session.tick()
