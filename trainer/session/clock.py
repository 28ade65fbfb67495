"""A session's time by its port's clock: how long it has lasted, and how long it still waits."""

from __future__ import annotations

from trainer.sound.port import SoundPort


class Clock:
    """Counts from when it is made."""

    def __init__(self, port: SoundPort) -> None:
        self._port = port
        self._opened_frame = port.now_frame()
        self._until_frame = 0
        self._left_frames: int | None = None
        """Of a waiting that stands still."""

    @property
    def elapsed_s(self) -> float:
        """Since the session was opened."""
        return (self._port.now_frame() - self._opened_frame) / self._port.sample_rate_hz

    def frames(self, seconds: float) -> int:
        """So many frames last so long at the port's present rate."""
        return round(seconds * self._port.sample_rate_hz)

    def wait(self, seconds: float) -> None:
        """Wait so long from now; 0 ends the waiting."""
        self._left_frames = None
        self.wait_after(self._port.now_frame(), seconds)

    def wait_after(self, frame: int, seconds: float) -> None:
        """Wait until so long after the frame; a waiting that stands still has so long left then."""
        if self._left_frames is not None:
            self._left_frames = self.frames(seconds)
        self._until_frame = frame + self.frames(seconds)

    def stand_still(self) -> None:
        """Keep what is left of the waiting until `go_on`."""
        self._left_frames = self._frames_left

    def go_on(self) -> None:
        """Wait on from where it stood still."""
        self._until_frame = self._port.now_frame() + self._frames_left
        self._left_frames = None

    @property
    def stands_still(self) -> bool:
        """The waiting was stopped."""
        return self._left_frames is not None

    @property
    def left_s(self) -> float:
        """Of the waiting."""
        return self._frames_left / self._port.sample_rate_hz

    @property
    def waited(self) -> bool:
        """The waiting is over."""
        return self._frames_left == 0 and not self.stands_still

    @property
    def _frames_left(self) -> int:
        if self._left_frames is not None:
            return self._left_frames
        return max(0, self._until_frame - self._port.now_frame())
