"""Everything worth saying about a round, the most useful first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.marks import Marks
from trainer.coach.observations.colour import in_colour
from trainer.coach.observations.knot import in_knot
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


_LOOKS = (in_notes, in_timing, in_tuning, in_sound, in_colour)
_AT_A_PLACE = frozenset({Topic.NOTES, Topic.CROSSING, Topic.BLIP, Topic.LATE_NOTE})

Subject = tuple[Topic, tuple[str, ...]]


def observe(
    kind: RoundKind, marks: Marks, earlier: Sequence[Marks] = ()
) -> tuple[Observation, ...]:
    """All observations strong enough to be said, the most useful first."""
    looks = (in_knot,) if kind is RoundKind.KNOT else _LOOKS
    seen = [observation for look in looks for observation in look(marks, earlier)]
    return tuple(sorted(seen, key=lambda one: (_rank(kind, one.topic), -one.strength)))


def observe_in_turn(marks: Marks, earlier: Sequence[Marks] = ()) -> tuple[Observation, ...]:
    """The same, but what was said often enough makes room for what was not.

    A player with two habits hears of both in a morning. The general impression never goes before
    a habit, since it usually comes from it. Common practice, no source.
    """
    seen = observe(marks.kind, marks, earlier)
    if len(seen) < 2:
        return seen
    said: Counter[Subject] = Counter()
    alike = [place for place, other in enumerate(earlier) if _alike(marks, other)]
    for place in alike[-thresholds.TURN_ROUNDS :]:
        other = earlier[place]
        then = _in_turn(other.kind, observe(other.kind, other, earlier[:place]), said)
        said.update(_subject(first) for first in then[:1])
    return _in_turn(marks.kind, seen, said)


def _in_turn(
    kind: RoundKind, seen: Sequence[Observation], said: Counter[Subject]
) -> tuple[Observation, ...]:
    def turn(one: Observation) -> tuple[bool, int]:
        times_over = said[_subject(one)] // thresholds.SAID_ENOUGH
        return _rank(kind, one.topic) == _GENERAL, times_over

    return tuple(sorted(seen, key=turn))


def _alike(marks: Marks, other: Marks) -> bool:
    return (marks.exercise_id, marks.kind) == (other.exercise_id, other.kind)


def _subject(seen: Observation) -> Subject:
    """What it is about: where two notes are named, those very notes."""
    pitches = (seen.frm, seen.to) if seen.topic in _AT_A_PLACE else ()
    return seen.topic, tuple(sorted(str(pitch) for pitch in pitches))


def _rank(kind: RoundKind, topic: Topic) -> int:
    if kind in _SOUND_FIRST and topic in _ABOUT_SOUND:
        return _ASKED
    return _ORDER.get(topic, _HABIT)
