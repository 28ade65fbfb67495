"""A session's time by its port's clock: how long it has lasted, and how long it still waits."""

from __future__ import annotations

from trainer.sound.port import SoundPort


class Clock:
    """Counts from when it is made."""

    def __init__(self, port: SoundPort) -> None:
        self._port = port
        self._opened_frame = port.now_frame()
        self._until_frame = 0

    @property
    def elapsed_s(self) -> float:
        """Since the session was opened."""
        return (self._port.now_frame() - self._opened_frame) / self._port.sample_rate_hz

    def frames(self, seconds: float) -> int:
        """So many frames last so long at the port's present rate."""
        return round(seconds * self._port.sample_rate_hz)

    def wait(self, seconds: float) -> None:
        """Wait so long from now; 0 ends the waiting."""
        self.wait_after(self._port.now_frame(), seconds)

    def wait_after(self, frame: int, seconds: float) -> None:
        """Wait until so long after the frame."""
        self._until_frame = frame + self.frames(seconds)

    @property
    def left_s(self) -> float:
        """Of the waiting."""
        frames = self._until_frame - self._port.now_frame()
        return max(0.0, frames / self._port.sample_rate_hz)

    @property
    def waited(self) -> bool:
        """The waiting is over."""
        return self._port.now_frame() >= self._until_frame
