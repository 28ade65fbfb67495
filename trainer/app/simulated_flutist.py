"""The played-in flutist at a session: plays each round into the port as a student would."""

from __future__ import annotations

from typing import Protocol

from trainer.player.flutist import Flutist
from trainer.player.shaping import Shaping
from trainer.routine.round import Depth, Round, Swell
from trainer.session.round_begins import RoundBegins
from trainer.session.session import Session
from trainer.session.view import Stage
from trainer.sound.port import Samples, SoundPort
from trainer.sound.simulated import SimulatedPort

TICK_S = 0.05
"""The simulated clock goes on in steps of this."""


class SingingPort(SoundPort, Protocol):
    """A port at whose microphone somebody can be put."""

    def sing(self, samples: Samples, at_frame: int) -> None:
        """Let the microphone hear the samples from the frame on."""
        ...

    def fall_silent(self, from_frame: int) -> None:
        """Break off what is sung."""
        ...


class SimulatedFlutist:
    """Takes the student's place at a port without a microphone."""

    def __init__(self, flutist: Flutist, port: SingingPort) -> None:
        self._flutist = flutist
        self._port = port
        self._rounds = 0
        self._from_frame = 0

    def round_begins(self, begins: RoundBegins) -> None:
        """Play the round; what was still sounding of the one before breaks off."""
        self._rounds += 1
        performance = self._flutist.play(
            begins.sounding,
            begins.round.tempo_bpm,
            begins.round.tuning,
            self._port.sample_rate_hz,
            self._rounds,
            shaping_of(begins.round),
        )
        lead_frames = round(performance.first_beat_s * self._port.sample_rate_hz)
        self._port.fall_silent(self._from_frame)
        self._from_frame = begins.first_beat_frame - lead_frames
        self._port.sing(performance.samples, self._from_frame)


SWELL_DB = 12.0
"""From piano to forte; our own estimate."""
SWELL_PEAKS = {Swell.LOUDER: 1.0, Swell.SOFTER: 0.0, Swell.THERE_AND_BACK: 0.5}
"""Where in the note it is loudest, 0 to 1."""
DEPTHS = {None: 1.0, Depth.DEEPER: 1.8, Depth.LIGHTER: 0.5}
COLOURED_DB = {"dark": -3.0, "bright": 3.0}


def shaping_of(round_: Round) -> Shaping:
    """What a round asks of the sound, as the flutist takes it."""
    manner = round_.manner
    vibrato = manner.vibrato
    return Shaping(
        pulses_hz=None if vibrato is None else vibrato.per_beat * round_.tempo_bpm / 60,
        depth=1.0 if vibrato is None else DEPTHS[vibrato.depth],
        swell_db=0.0 if manner.swell is None else SWELL_DB,
        swell_peak=0.5 if manner.swell is None else SWELL_PEAKS[manner.swell],
        bright_db=COLOURED_DB.get(manner.colour, 0.0),
        settles=round_.waits,
    )


def play_through(session: Session, port: SimulatedPort) -> None:
    """Walk the whole routine as fast as the machine can, pressing the key where a student would."""
    tick_frames = round(TICK_S * port.sample_rate_hz)
    while (stage := session.view().stage) is not Stage.ENDED:
        if stage in (Stage.TODAY, Stage.READY, Stage.READING):
            session.advance()
        port.advance(tick_frames)
        session.tick()
