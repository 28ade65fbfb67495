"""Everything worth saying about a round, the most useful first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.marks import Marks
from trainer.coach.observations.colour import in_colour
from trainer.coach.observations.intonation import in_tuning
from trainer.coach.observations.knot import in_knot
from trainer.coach.observations.note_timing import in_timing
from trainer.coach.observations.observation import Observation
from trainer.coach.observations.settled_notes import in_settling
from trainer.coach.observations.sounding import in_sound
from trainer.coach.observations.swells import in_swells
from trainer.coach.observations.trills import in_trills
from trainer.coach.observations.two_colours import in_colours
from trainer.coach.observations.vibrato import in_vibrato
from trainer.coach.observations.voicing import in_voicing, pinched
from trainer.coach.observations.wrong_notes import in_notes
from trainer.routine.round import RoundKind

_RIGHT, _ASKED, _HABIT, _GENERAL = range(4)

_ORDER: dict[Topic, int] = {
    Topic.NOTES: _RIGHT,
    Topic.START: _ASKED,
    Topic.EVENNESS: _GENERAL,
    Topic.SLOW_TO_SPEAK: _GENERAL,
    Topic.TONE: _GENERAL,
    Topic.FADING: _GENERAL,
    Topic.BREATH: _GENERAL,
}
"""Right notes first, then what the round asked for, then habits, then the general impression: a
habit usually causes the general impression. Common practice, no source."""

_SOUND = frozenset(
    {
        Topic.TUNING,
        Topic.TUNING_HIGH,
        Topic.TUNING_LOW,
        Topic.OCTAVES,
        Topic.VOICE,
        Topic.HELD,
        Topic.TONE,
        Topic.FADING,
    }
)
_ABOUT: dict[RoundKind, frozenset[Topic]] = {
    RoundKind.LONG_TONES: _SOUND,
    RoundKind.VOICING: _SOUND,
    RoundKind.SETTLING: frozenset({Topic.SETTLING}),
    RoundKind.VIBRATO: frozenset({Topic.VIBRATO}),
    RoundKind.SWELLS: frozenset({Topic.SWELL}),
    RoundKind.COLOURS: frozenset({Topic.COLOUR}),
    RoundKind.TRILLS: frozenset({Topic.TRILL}),
    RoundKind.BREATH: frozenset({Topic.BREATH}),
}
"""What a round is for: said before anything else but wrong notes."""

Look = Callable[[Marks, Sequence[Marks]], Iterator[Observation]]
_LOOKS: tuple[Look, ...] = (in_notes, in_timing, in_tuning, in_sound, in_colour, pinched)
_HELD: tuple[Look, ...] = (in_notes, in_tuning, in_sound, in_colour, pinched)
_LOOKS_OF: dict[RoundKind, tuple[Look, ...]] = {
    RoundKind.KNOT: (in_knot,),
    RoundKind.SETTLING: (in_settling,),
    RoundKind.CADENZA: (in_notes, in_tuning),
    RoundKind.VOICING: (in_notes, in_tuning, in_colour, pinched, in_voicing),
    RoundKind.VIBRATO: (*_HELD, in_vibrato),
    RoundKind.SWELLS: (in_notes, in_swells, in_tuning),
    RoundKind.COLOURS: (in_notes, in_timing, in_tuning, in_sound, in_colours),
    RoundKind.TRILLS: (in_notes, in_trills, in_tuning),
}
"""Other kinds are looked at from every side."""
_AT_A_PLACE = frozenset(
    {Topic.NOTES, Topic.CROSSING, Topic.BLIP, Topic.LATE_NOTE, Topic.SLOW_TO_SPEAK, Topic.TRILL}
)

Subject = tuple[Topic, tuple[str, ...]]


def observe(
    kind: RoundKind, marks: Marks, earlier: Sequence[Marks] = ()
) -> tuple[Observation, ...]:
    """All observations strong enough to be said, the most useful first."""
    looks = _LOOKS_OF.get(kind, _LOOKS)
    seen = [observation for look in looks for observation in look(marks, earlier)]
    return tuple(sorted(seen, key=lambda one: (_rank(kind, one.topic), -one.strength)))


def observe_in_turn(
    marks: Marks,
    earlier: Sequence[Marks] = (),
    known: frozenset[Topic] = frozenset(),
    disputed: frozenset[Topic] = frozenset(),
) -> tuple[Observation, ...]:
    """The same, but what was said often enough makes room for what was not.

    A player with two habits hears of both in a morning; what is known from earlier days goes after
    what is new, and what the student disagreed with is left out. The general impression never goes
    before a habit, since it usually comes from it. Common practice, no source.
    """
    everything = observe(marks.kind, marks, earlier)
    seen = tuple(one for one in everything if one.topic not in disputed)
    if len(seen) < 2:
        return seen
    said: Counter[Subject] = Counter()
    alike = [place for place, other in enumerate(earlier) if _alike(marks, other)]
    for place in alike[-thresholds.TURN_ROUNDS :]:
        other = earlier[place]
        then = _in_turn(other.kind, observe(other.kind, other, earlier[:place]), said, known)
        said.update(_subject(first) for first in then[:1])
    return _in_turn(marks.kind, seen, said, known)


def _in_turn(
    kind: RoundKind,
    seen: Sequence[Observation],
    said: Counter[Subject],
    known: frozenset[Topic],
) -> tuple[Observation, ...]:
    def turn(one: Observation) -> tuple[bool, int, bool]:
        times_over = said[_subject(one)] // thresholds.SAID_ENOUGH
        rank = _rank(kind, one.topic)
        return rank == _GENERAL, times_over, rank == _HABIT and one.topic in known

    return tuple(sorted(seen, key=turn))


def _alike(marks: Marks, other: Marks) -> bool:
    return (marks.exercise_id, marks.kind) == (other.exercise_id, other.kind)


def _subject(seen: Observation) -> Subject:
    """What it is about: where two notes are named, those very notes."""
    pitches = (seen.frm, seen.to) if seen.topic in _AT_A_PLACE else ()
    return seen.topic, tuple(sorted(str(pitch) for pitch in pitches))


def _rank(kind: RoundKind, topic: Topic) -> int:
    if topic in _ABOUT.get(kind, ()):
        return _ASKED
    return _ORDER.get(topic, _HABIT)
