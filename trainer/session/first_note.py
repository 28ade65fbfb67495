"""A round begins when the student simply plays its first note."""

from __future__ import annotations

from trainer.ear.live.live_ear import ToneGate
from trainer.music.pitch import Pitch
from trainer.sound.port import SoundPort

SAME_NOTE_SEMITONES = 0.6
"""A round begun by playing must begin with its own first note."""


class FirstNote:
    """Waits at a port's microphone for the first note, from when it is made."""

    def __init__(self, port: SoundPort) -> None:
        self._port = port
        self._gate = ToneGate(port.sample_rate_hz)
        self._from_frame = self._read_to_frame = port.heard_frame()

    def onset_frame(self, expected: Pitch) -> int | None:
        """Where the expected note (sounding pitch) began; None until it has.

        After any other note it is waited for anew.
        """
        heard_frame = self._port.heard_frame()
        began = self._gate.feed(self._port.read(self._read_to_frame, heard_frame))
        self._read_to_frame = heard_frame
        if began is None:
            return None
        if abs(began.midi - expected.midi) > SAME_NOTE_SEMITONES:
            self._gate = ToneGate(self._port.sample_rate_hz)
            self._from_frame = self._read_to_frame = self._port.heard_frame()
            return None
        return self._from_frame + round(began.onset_s * self._port.sample_rate_hz)
