"""What the screens ask of a practice session."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Protocol

from trainer.coach.advice import Felt
from trainer.music.pitch import Pitch
from trainer.session.view import ClickChange, DroneAbove, PlayAlongAsk, View


class Practice(Protocol):
    """A session as a screen sees it: a view to show, and commands that return at once."""

    def view(self) -> View:
        """Everything to show at this moment."""
        ...

    def advance(self) -> None:
        """Do the next obvious thing: begin, count in, go on, end the rest."""
        ...

    def again(self) -> None:
        """Play the round once more."""
        ...

    def slower(self) -> None:
        """Play the next round slower."""
        ...

    def faster(self) -> None:
        """Play the next round faster."""
        ...

    def skip(self) -> None:
        """Go to the next exercise."""
        ...

    def pause(self) -> None:
        """Stand still, or go on: a round that sounds breaks off and counts in anew."""
        ...

    def go_back(self) -> None:
        """Go to the exercise before this one."""
        ...

    def go_to(self, index: int) -> None:
        """Go to an entry of the routine."""
        ...

    def hear_again(self, speed: float = 1.0) -> None:
        """Play the round just heard, slower at the same pitch."""
        ...

    def rest(self) -> None:
        """Take a rest."""
        ...

    def felt(self, felt: Felt) -> None:
        """Say how the round or the session felt."""
        ...

    def disagree(self) -> None:
        """Say that the advice is not right."""
        ...

    def hold(self, held: bool) -> None:
        """Wait with the next count-in while something else is read, or go on."""
        ...

    def tune(self, wanted: bool) -> None:
        """Tune beside the routine, or go back to it."""
        ...

    def sound_drone(
        self, written: Pitch | None, *, pure: bool = True, above: DroneAbove = DroneAbove.NOTHING
    ) -> None:
        """While tuning: hold this note with what is asked above it, or none."""
        ...

    def listen_for_a(self, given: Pitch) -> None:
        """While tuning: hear where the room's A stands, by the sounding note somebody gives."""
        ...

    def use_click(self, wanted: bool) -> None:
        """Use the click beside the routine, or go back to it."""
        ...

    def change_click(self, change: ClickChange) -> None:
        """With the click: do this."""
        ...

    def tap(self, at_s: float) -> None:
        """With the click: a tap of the student's, in seconds by one clock."""
        ...

    def set_side_by_side(self, files: Sequence[Path]) -> None:
        """Have these sounds at hand to be heard one after the other; with none, go back."""
        ...

    def play_side_by_side(self, places: Sequence[int]) -> None:
        """Hear these of them, one after the other."""
        ...

    def play_along(self, wanted: bool) -> None:
        """The teacher plays what is due, and the student answers; or go back."""
        ...

    def ask_play_along(self, asked: PlayAlongAsk) -> None:
        """Where the teacher plays first: do this."""
        ...

    def remark(self, text: str) -> None:
        """Write the student's own words into the journal."""
        ...

    def stop(self) -> None:
        """End the session and finish its journal."""
        ...
