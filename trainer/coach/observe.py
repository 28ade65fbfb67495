"""Everything worth saying about a round, the most useful first."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.coach.advice import Topic
from trainer.coach.marks import Marks
from trainer.coach.observations.colour import in_colour
from trainer.coach.observations.notes import in_notes
from trainer.coach.observations.observation import Observation
from trainer.coach.observations.sounding import in_sound
from trainer.coach.observations.timing import in_timing
from trainer.coach.observations.tuning import in_tuning
from trainer.routine.round import RoundKind

_RIGHT, _ASKED, _HABIT, _GENERAL = range(4)

_ORDER: dict[Topic, int] = {
    Topic.NOTES: _RIGHT,
    Topic.START: _ASKED,
    Topic.EVENNESS: _GENERAL,
    Topic.TONE: _GENERAL,
    Topic.FADING: _GENERAL,
    Topic.BREATH: _GENERAL,
}
"""Right notes first, then what the round asked for, then habits, then the general impression: a
habit usually causes the general impression. Common practice, no source."""

_SOUND_FIRST = frozenset({RoundKind.LONG_TONES, RoundKind.VOICING})
_ABOUT_SOUND = frozenset(
    {Topic.TUNING, Topic.TUNING_HIGH, Topic.TUNING_LOW, Topic.HELD, Topic.TONE, Topic.FADING}
)


def observe(
    kind: RoundKind, marks: Marks, earlier: Sequence[Marks] = ()
) -> tuple[Observation, ...]:
    """All observations strong enough to be said, the most useful first."""
    seen = [
        observation
        for look in (in_notes, in_timing, in_tuning, in_sound, in_colour)
        for observation in look(marks, earlier)
    ]
    return tuple(sorted(seen, key=lambda one: (_rank(kind, one.topic), -one.strength)))


def _rank(kind: RoundKind, topic: Topic) -> int:
    if kind in _SOUND_FIRST and topic in _ABOUT_SOUND:
        return _ASKED
    return _ORDER.get(topic, _HABIT)
