"""One practice session as commands and views, without a screen."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from queue import SimpleQueue

from trainer.coach.advice import Felt
from trainer.session.view import View
from trainer.session.walk import Walk

REST_S = 60.0
TEMPO_STEP = 1.08
"""Slower and faster move about two marks of a metronome's scale; common practice, no source."""


class Session:
    """A walk through a routine that may be asked from other threads.

    `tick` does the work and must be called often (some hundred times a second) from one thread;
    the commands and `view` may be called from any other.
    """

    def __init__(self, walk: Walk) -> None:
        self._walk = walk
        self._asked: SimpleQueue[Callable[[], None]] = SimpleQueue()
        self._view = walk.view()

    def view(self) -> View:
        """The newest snapshot."""
        return self._view

    def tick(self) -> None:
        """Take commands, move on as the clock says, and publish a new view."""
        while not self._asked.empty():
            self._asked.get()()
        self._walk.move_on()
        self._view = self._walk.view()

    def recover(self, what: str) -> None:
        """Give the round under way up after a fault of our own, and say so; nothing is lost."""
        self._walk.give_up_round(what)
        self._view = self._walk.view()

    # What the student can ask for

    def advance(self) -> None:
        """Do the next obvious thing: begin, count in, go on, end the rest."""
        self._asked.put(self._walk.advance)

    def again(self) -> None:
        """Play the same round once more."""
        self._asked.put(self._walk.play_again)

    def slower(self) -> None:
        """Take the round due a step slower."""
        self._asked.put(partial(self._walk.change_tempo, 1 / TEMPO_STEP))

    def faster(self) -> None:
        """Take the round due a step faster."""
        self._asked.put(partial(self._walk.change_tempo, TEMPO_STEP))

    def skip(self) -> None:
        """Leave this exercise for the next."""
        self._asked.put(self._walk.skip)

    def hear_again(self, speed: float = 1.0) -> None:
        """Play the round just heard through the loudspeaker, slower at the same pitch."""
        self._asked.put(partial(self._walk.hear_again, speed))

    def rest(self) -> None:
        """Rest now."""
        self._asked.put(partial(self._walk.rest, REST_S))

    def felt(self, felt: Felt) -> None:
        """Say how the last round felt; at the end, how the whole session did."""
        self._asked.put(partial(self._walk.set_felt, felt))

    def disagree(self) -> None:
        """Say that the sentence is not right; it is written down, and not said again here today."""
        self._asked.put(self._walk.dispute)

    def remark(self, text: str) -> None:
        """Put the student's own words into the journal."""
        self._asked.put(partial(self._walk.set_remark, text))

    def stop(self) -> None:
        """End the session; what was played stays in the journal."""
        self._asked.put(self._walk.end)
