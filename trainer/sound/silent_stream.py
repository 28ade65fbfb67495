"""Time without sound: the clock runs on while there is no device, so that practice can."""

from __future__ import annotations

import time
from collections.abc import Callable
from threading import Event, Thread

import numpy as np

from trainer.sound.board import shared_board
from trainer.sound.engine import OpenedStream, Order

RATE_HZ = 48000
"""As most devices have."""
TURN_S = 0.02
"""Like a block of a device."""
NAME = "no sound device"


class SilentStream:
    """Turns a board in real time as an engine would; plays and hears nothing."""

    def __init__(self, board_memory: int, clock_s: Callable[[], float] = time.monotonic) -> None:
        """Begin to count."""
        self._board = shared_board(board_memory)
        self._clock_s = clock_s
        self._over = Event()
        self._thread = Thread(target=self._keep_turning, name="silence", daemon=True)
        self._thread.start()

    def answer(self, limit_s: float) -> OpenedStream:  # noqa: ARG002 - it never has to wait
        """It is always there."""
        return OpenedStream(NAME, False, RATE_HZ, 0.0, 0.0)

    def tell(self, order: Order) -> None:
        """Orders are of no use here."""

    def running(self) -> bool:
        """True until it is ended."""
        return not self._over.is_set()

    def end(self) -> None:
        """Stop counting."""
        self._over.set()
        self._thread.join()

    def _keep_turning(self) -> None:
        turned_s = self._clock_s()
        owed_frames = 0.0
        while not self._over.wait(TURN_S):
            now_s = self._clock_s()
            owed_frames += (now_s - turned_s) * RATE_HZ
            turned_s = now_s
            frames = min(int(owed_frames), RATE_HZ)
            owed_frames -= int(owed_frames)
            self._board.microphone.write(np.zeros(frames, np.float32))
            self._board.turned(frames, now_s)
