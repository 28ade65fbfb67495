"""A round begins when the student simply plays its first note."""

from __future__ import annotations

from trainer.ear.live.awaited_tone import AwaitedTone
from trainer.sound.port import SoundPort


class FirstNote:
    """Waits at a port's microphone for the first note, from when it is made."""

    def __init__(self, port: SoundPort, expected_hz: float, softest_db: float) -> None:
        """expected_hz: where the first note stands in the round's tuning, as it sounds. softest_db:
        what is softer is somebody's next door, re full scale."""
        self._port = port
        self._tone = AwaitedTone(port.sample_rate_hz, expected_hz, softest_db)
        self._from_frame = self._read_to_frame = port.heard_frame()

    def onset_frame(self) -> int | None:
        """Where the expected note began; None until it has."""
        heard_frame = self._port.heard_frame()
        onset_s = self._tone.feed(self._port.read(self._read_to_frame, heard_frame))
        self._read_to_frame = heard_frame
        if onset_s is None:
            return None
        return self._from_frame + round(onset_s * self._port.sample_rate_hz)
