"""Sound that is opened while the first screen is shown already."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from threading import Thread
from typing import TYPE_CHECKING, Generic, Protocol, TypeVar

if TYPE_CHECKING:
    from trainer.sound.port import SoundPort

LEAVE_S = 5.0
"""Who leaves while the sound still opens waits so long for it at the most."""


class OnPort(Protocol):
    """What is made ready on a sound port."""

    @property
    def port(self) -> SoundPort:
        """Where it sounds, and what it hears."""
        ...


T = TypeVar("T", bound=OnPort)


class SoundOpening(Generic[T]):
    """What sounds and hears, made ready in a thread of its own.

    Loading it takes a second and more, and a device may take its time to open: none of that holds
    up what is shown meanwhile.
    """

    def __init__(self, make_ready: Callable[[], T]) -> None:
        """Nothing happens before `begin`."""
        self._made: Future[T] = Future()
        self._thread = Thread(
            target=self._keep, args=(make_ready,), name="sound opening", daemon=True
        )
        self._is_begun = False
        self._is_open = False

    def begin(self) -> None:
        """Make it ready from now on; once."""
        if not self._is_begun:
            self._is_begun = True
            self._thread.start()

    def opened(self) -> T | None:
        """What was made ready; None until its port is open. Raises what went wrong."""
        if not self._made.done():
            return None
        made = self._made.result()
        self._is_open = self._is_open or made.port.alive
        return made if self._is_open else None

    def close(self) -> None:
        """Stop the sound, open or not."""
        if not self._is_begun:
            return
        self._thread.join(LEAVE_S)
        if self._made.done() and self._made.exception() is None:
            self._made.result().port.close()

    def _keep(self, make_ready: Callable[[], T]) -> None:
        try:
            self._made.set_result(make_ready())
        except BaseException as fault:  # told to whoever asks for it
            self._made.set_exception(fault)
