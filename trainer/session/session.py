"""One practice session as commands and views, without a screen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from queue import SimpleQueue
from typing import TYPE_CHECKING

from trainer.coach.advice import Felt
from trainer.session.view import ClickChange, DroneAbove, PlayAlongAsk, View

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.music.pitch import Pitch
    from trainer.session.walk import Walk

REST_S = 60.0
TEMPO_STEP = 1.08
"""Slower and faster move about two marks of a metronome's scale; common practice, no source."""


class Session:
    """A walk through a routine that may be asked from other threads.

    `tick` does the work and must be called often (some hundred times a second) from one thread;
    the commands and `view` may be called from any other. What is asked before there is a walk is
    done as soon as there is one.
    """

    def __init__(self, first: View, begin: Callable[[], Walk | None]) -> None:
        """Show `first` until there is a walk.

        `begin` is asked for it now and at each tick; it gives None as long as nothing can begin.
        """
        self._first = self._view = first
        self._begin = begin
        self._walk = begin()
        self._asked: SimpleQueue[Callable[[Walk], object]] = SimpleQueue()

    def view(self) -> View:
        """The newest snapshot."""
        return self._view

    def tick(self) -> None:
        """Take commands, move on as the clock says, and publish a new view."""
        if self._walk is None:
            self._walk = self._begin()
        if self._walk is None:
            return
        self._do_what_was_asked(self._walk)
        self._walk.move_on()
        self._view = self._walk.view()

    def recover(self, what: str) -> None:
        """Give the round under way up after a fault of our own, and say so; nothing is lost.

        A walk that could not be begun is not tried again.
        """
        if self._walk is None:
            self._begin = lambda: None
            self._view = replace(self._first, notices=(*self._first.notices, what))
            return
        self._walk.give_up_round(what)
        self._view = self._walk.view()

    def end(self) -> None:
        """Do what was asked, and end the session; when nothing ticks any more."""
        if self._walk is not None:
            self._do_what_was_asked(self._walk)
            self._walk.end()
            self._view = self._walk.view()

    def _do_what_was_asked(self, walk: Walk) -> None:
        while not self._asked.empty():
            self._asked.get()(walk)

    # What the student can ask for

    def advance(self) -> None:
        """Do the next obvious thing: begin, count in, go on, end the rest."""
        if self._walk is None:
            if self._view.awaits_sound:
                return  # pressed again while waiting: it begins once
            self._view = replace(self._view, awaits_sound=True)
        self._asked.put(lambda walk: walk.advance())

    def again(self) -> None:
        """Play the same round once more."""
        self._asked.put(lambda walk: walk.play_again())

    def slower(self) -> None:
        """Take the round due a step slower."""
        self._asked.put(lambda walk: walk.change_tempo(1 / TEMPO_STEP))

    def faster(self) -> None:
        """Take the round due a step faster."""
        self._asked.put(lambda walk: walk.change_tempo(TEMPO_STEP))

    def skip(self) -> None:
        """Leave this exercise for the next."""
        self._asked.put(lambda walk: walk.skip())

    def pause(self) -> None:
        """Stand still, or go on: a round that sounds breaks off and counts in anew."""
        self._asked.put(lambda walk: walk.pause())

    def go_back(self) -> None:
        """Go to the exercise before this one."""
        self._asked.put(lambda walk: walk.go_back())

    def go_to(self, index: int) -> None:
        """Go to an entry of the routine, by its place in `today.lines`."""
        self._asked.put(lambda walk: walk.go_to(index))

    def hear_again(self, speed: float = 1.0) -> None:
        """Play the round just heard through the loudspeaker, slower at the same pitch."""
        self._asked.put(lambda walk: walk.hear_again(speed))

    def rest(self) -> None:
        """Rest now."""
        self._asked.put(lambda walk: walk.rest(REST_S))

    def felt(self, felt: Felt) -> None:
        """Say how the last round felt; at the end, how the whole session did."""
        self._asked.put(lambda walk: walk.set_felt(felt))

    def disagree(self) -> None:
        """Say that the sentence is not right; it is written down, and not said again here today."""
        self._asked.put(lambda walk: walk.dispute())

    def hold(self, held: bool) -> None:
        """Wait with the next count-in while something else is read, or go on."""
        self._asked.put(lambda walk: walk.hold(held))

    def tune(self, wanted: bool) -> None:
        """Tune beside the routine from now on, or go back to it."""
        self._asked.put(lambda walk: walk.tune(wanted))

    def sound_drone(
        self, written: Pitch | None, *, pure: bool = True, above: DroneAbove = DroneAbove.NOTHING
    ) -> None:
        """While tuning: hold this note with what is asked above it, or none."""
        self._asked.put(lambda walk: walk.beside.sound_drone(written, pure=pure, above=above))

    def listen_for_a(self, given: Pitch) -> None:
        """While tuning: hear where the room's A stands, by the sounding note somebody gives."""
        self._asked.put(lambda walk: walk.beside.listen_for_a(given))

    def use_click(self, wanted: bool) -> None:
        """Use the click beside the routine from now on, or go back to it."""
        self._asked.put(lambda walk: walk.use_click(wanted))

    def change_click(self, change: ClickChange) -> None:
        """With the click: do this."""
        self._asked.put(lambda walk: walk.beside.change_click(change))

    def tap(self, at_s: float) -> None:
        """With the click: a tap of the student's, in seconds by one clock."""
        self._asked.put(lambda walk: walk.beside.tap(at_s))

    def set_side_by_side(self, files: Sequence[Path]) -> None:
        """Have these sounds at hand to be heard one after the other; with none, go back."""
        self._asked.put(lambda walk: walk.set_side_by_side(files))

    def play_side_by_side(self, places: Sequence[int]) -> None:
        """Hear these of them, one after the other."""
        self._asked.put(lambda walk: walk.beside.play_side_by_side(places))

    def play_along(self, wanted: bool) -> None:
        """The teacher plays what is due, and the student answers; or go back."""
        self._asked.put(lambda walk: walk.play_along(wanted))

    def ask_play_along(self, asked: PlayAlongAsk) -> None:
        """Where the teacher plays first: do this."""
        self._asked.put(lambda walk: walk.beside.ask_play_along(asked))

    def remark(self, text: str) -> None:
        """Put the student's own words into the journal."""
        self._asked.put(lambda walk: walk.set_remark(text))

    def stop(self) -> None:
        """End the session; what was played stays in the journal."""
        self._asked.put(lambda walk: walk.end())
