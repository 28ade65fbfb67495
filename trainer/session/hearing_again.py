"""The take just played, heard again through the loudspeaker."""

from __future__ import annotations

from trainer.sound.kept_takes import slowed, to_hear_again
from trainer.sound.port import Samples, SoundPort


class HearingAgain:
    """The sound of the round just played, at hand to be heard again on a port."""

    def __init__(self, port: SoundPort) -> None:
        self._port = port
        self._sound: Samples | None = None
        self._from_frame: int | None = None

    @property
    def at_hand(self) -> bool:
        """There is something to be heard."""
        return self._sound is not None

    def take_up(self, sound: Samples | None) -> None:
        """Have this sound at hand from now on; None where there is none."""
        self._sound = sound

    def begin(self, speed: float, lead_s: float) -> int:
        """Play what is at hand, slower at the same pitch; the frame at which it will be over.

        `lead_s`: it begins so long after all is ready.
        """
        assert self._sound is not None
        self.stop()
        sound = to_hear_again(self._sound)
        if speed != 1.0:
            sound = slowed(sound, self._port.sample_rate_hz, speed)
        self._from_frame = self._port.now_frame() + round(lead_s * self._port.sample_rate_hz)
        self._port.play(sound, self._from_frame)
        return self._from_frame + sound.size

    def let_go(self) -> None:
        """Let it fall silent and forget it: something else begins."""
        self.stop()
        self._sound = None

    def stop(self) -> None:
        """Let it fall silent, where it still sounds."""
        if self._from_frame is not None:
            self._port.hush(self._from_frame)
            self._from_frame = None
