"""What practice is reminded of as it goes on: headphones, a room too live, rest."""

from __future__ import annotations

from trainer.coach.blurred_starts import NOW, too_blurred
from trainer.figures.round_measures import RoundMeasures
from trainer.routine.round import Round
from trainer.session.notices import Notices
from trainer.session.since_rest import SinceRest

HEADPHONES = (
    "The loudspeaker comes back through the microphone louder than can be taken out, and may be "
    "taken for your playing: headphones, or a softer loudspeaker, would serve better."
)


class Reminders:
    """Tells each where a round gave reason to."""

    def __init__(self, notices: Notices) -> None:
        """Nothing was played yet."""
        self._notices = notices
        self._measured: list[RoundMeasures] = []
        self._since_rest = SinceRest()

    def of_headphones(self) -> None:
        """Once: the partner comes back through the microphone too loud."""
        self._notices.tell_once(HEADPHONES)

    def of_the_room(self, measures: RoundMeasures | None) -> None:
        """Once: too many starts can't be heard here; measures are the last round's."""
        if measures is not None:
            self._measured.append(measures)
        if too_blurred(self._measured):
            self._notices.tell_once(NOW)

    def of_rest(self, round_: Round, seconds: float) -> None:
        """After a round that lasted so long: where the playing since the last rest calls for it."""
        self._since_rest = self._since_rest.and_played(round_, seconds)
        words = self._since_rest.words_of_care
        if words is not None:
            self._notices.tell(words)

    def rested(self) -> None:
        """A rest began."""
        self._since_rest = SinceRest()
