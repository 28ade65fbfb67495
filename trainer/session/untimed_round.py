"""The round out of time: each note is waited for until it stands."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable
from dataclasses import replace

from trainer.coach import settle
from trainer.coach.advice import Standing
from trainer.coach.marks import Marks
from trainer.ear.heard import WRONG_SEMITONES, LiveNote, LiveReading, Take
from trainer.ear.live.live_ear import LiveEar
from trainer.music.instrument import Instrument
from trainer.music.note import Note
from trainer.routine.round import PartnerPart, Round
from trainer.session.round_recorder import TRAIL_READINGS
from trainer.sound.partner import DRONE_RISE_S, drone
from trainer.sound.port import SoundPort

DRONE_S = 30.0
"""The drone is played in stretches, since nobody knows how long the round will take."""
ANY_BPM = 60.0
DRONE_SOUNDS_S = 0.4
"""From its beginning until it has its level."""
DRONES_SEMITONES, DRONES_DB = 0.65, 4.0
"""A tone at the drone's pitch is the player's where it is so much louder than the drone alone in
the microphone; our own estimate."""

NoteDue = Callable[[Note, int], None]
"""Told the sounding note now due and the frame from which it is."""


class UntimedRound:
    """One out-of-time round on a port, from its first note to the last that stands."""

    def __init__(
        self,
        port: SoundPort,
        instrument: Instrument,
        round_: Round,
        from_frame: int,
        note_due: NoteDue,
        softest_db: float,
    ) -> None:
        """Wait for the first note from the frame on; softest_db: what is softer before the player
        begins is somebody's next door, re full scale."""
        self.round = round_
        self.sounding = tuple(
            replace(note.at(instrument.sounding), graces=(), ornament=None) for note in round_.notes
        )
        self.first_beat_frame = from_frame
        self.trail: deque[LiveReading] = deque(maxlen=TRAIL_READINGS)
        self._port = port
        self._rate = port.sample_rate_hz
        self._read_to_frame = from_frame
        self._note_due = note_due
        self._drone = None if round_.drone is None else instrument.sounding(round_.drone)
        self._drone_until_frame = from_frame
        self._softest_db = math.inf
        """The softest moment since the drone sounds: nobody played then."""
        tuning = round_.tuning
        self._ear = LiveEar(self.sounding, ANY_BPM, tuning, self._rate, 0.0, softest_db)
        self._state = settle.begin(
            [tuning.placed_midi(note.pitch) for note in self.sounding],
            round_.aims.cents,
            round_.manner.stands_s or 1.0,
        )
        note_due(self.sounding[0], from_frame)

    @property
    def standing(self) -> Standing | None:
        """What the due note needs now."""
        return settle.standing(self._state)

    @property
    def beat(self) -> float:
        """Where the due note stands in the music; nothing moves by itself."""
        due = self._state.due
        return float(self.round.notes[-1 if due is None else due].beat)

    @property
    def seconds(self) -> float:
        """How long it has gone on."""
        to_frame = self._read_to_frame if self._port.listens else self._port.now_frame()
        return max(0.0, (to_frame - self.first_beat_frame) / self._rate)

    def follow(self) -> None:
        """Give what the microphone heard meanwhile to the live ear."""
        self._keep_drone()
        heard_frame = self._port.heard_frame()
        if not self._port.listens or heard_frame <= self._read_to_frame:
            return
        for reading in self._ear.feed(self._port.read(self._read_to_frame, heard_frame)):
            before, players = self._state, self._without_drone(reading)
            self._state = settle.after(before, (players,))
            self.trail.append(_on_the_note(players, before))
            if self._state.due != before.due:
                self._tell_due(heard_frame)
        self._read_to_frame = heard_frame

    def _without_drone(self, reading: LiveReading) -> LiveReading:
        """A drone that comes back through the microphone is nobody's note: silence instead."""
        if self._drone is None or reading.time_s < DRONE_SOUNDS_S:
            return reading
        self._softest_db = min(self._softest_db, reading.level_db)
        drone_midi = self.round.tuning.placed_midi(self._drone)
        drones = reading.midi is not None and abs(reading.midi - drone_midi) < DRONES_SEMITONES
        if drones and reading.level_db < self._softest_db + DRONES_DB:
            return replace(
                reading,
                midi=None,
                cents=None,
                note_index=None,
                off_beat_ms=None,
                settled_cents=None,
            )
        return reading

    @property
    def first_beat_s(self) -> None:
        """There is no beat."""
        return None

    @property
    def readings(self) -> tuple[LiveReading, ...]:
        """The newest quick readings."""
        return tuple(self.trail)

    def pass_note(self) -> None:
        """Go on to the next note, standing or not."""
        self._state = settle.passed(self._state)
        self._tell_due(self._port.heard_frame())

    def answers(self) -> tuple[LiveNote, ...]:
        """The notes behind us, as they stood."""
        return tuple(
            LiveNote(one.index, self._state.expected_midi[one.index], one.cents, None)
            for one in self._state.settled
            if one.cents is not None
        )

    def is_over(self) -> bool:
        """Every note is behind us."""
        return self._state.due is None

    def weigh(self) -> tuple[Take, Marks] | None:
        """What was heard and how it is judged; None without a microphone."""
        if not self._port.listens:
            return None
        take = settle.settled_take(self._state, self.sounding, self._rate, self.round.tuning.a4_hz)
        return take, settle.settled_marks(self.round, self._state, take)

    def _tell_due(self, frame: int) -> None:
        if self._state.due is not None:
            self._note_due(self.sounding[self._state.due], frame)

    def _keep_drone(self) -> None:
        """Let the drone sound on."""
        if self.round.partner is not PartnerPart.DRONE or self._drone is None:
            return
        now_frame = self._port.now_frame()
        if now_frame + self._rate < self._drone_until_frame:
            return
        tuning = self.round.tuning
        begin = max(now_frame, self._drone_until_frame)
        self._port.play(drone(self._drone, DRONE_S, tuning, self._rate), begin)
        # the next stretch begins as this one ends, after whole turns: they join without a seam
        hz = tuning.hz(self._drone)
        turns = math.floor((DRONE_S - DRONE_RISE_S) * hz)
        self._drone_until_frame = begin + round(turns / hz * self._rate)


def _on_the_note(reading: LiveReading, state: settle.Settling) -> LiveReading:
    """The reading against the due note; without cents where another note sounds."""
    due = state.due
    if due is None or reading.midi is None:
        return replace(reading, note_index=due, cents=None, off_beat_ms=None, settled_cents=None)
    cents = 100 * (reading.midi - state.expected_midi[due])
    own = cents if abs(cents) < 100 * WRONG_SEMITONES else None
    return replace(reading, note_index=due, cents=own, off_beat_ms=None, settled_cents=own)
