"""What the sound port did meanwhile: faults to tell of, and whether the sound is there."""

from __future__ import annotations

from enum import StrEnum

from trainer.sound.port import SoundPort


class PortState(StrEnum):
    """How a port is since it was last looked at."""

    THERE = "there"
    GONE = "gone"
    """The device is lost or being restarted."""
    BACK = "back"
    """It was gone when last looked at."""
    SLIPPED = "slipped"
    """It sounds, but its delay may have changed: it wants restarting where nothing sounds."""


class PortWatch:
    """Looks at a port now and then."""

    def __init__(self, port: SoundPort) -> None:
        self._port = port
        self._was_alive = port.alive
        self._faults_told = 0

    def new_faults(self) -> tuple[str, ...]:
        """A sentence for each fault since the last time, oldest first."""
        faults = self._port.faults()
        new = faults[self._faults_told :]
        self._faults_told = len(faults)
        return tuple(fault.what for fault in new)

    def look(self) -> PortState:
        """How the port is now."""
        alive, was_alive = self._port.alive, self._was_alive
        self._was_alive = alive
        if not alive:
            return PortState.GONE
        if self._port.slipped:
            return PortState.SLIPPED
        return PortState.THERE if was_alive else PortState.BACK
