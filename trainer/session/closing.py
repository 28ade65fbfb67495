"""What is said when a session is over: the best thing, tomorrow's thing, what changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from trainer.coach.advice import NO_FAULT, UNJUDGED, LastTime, Topic
from trainer.coach.knots import knot_name
from trainer.coach.last_time import EARLIER
from trainer.music.pitch import Pitch
from trainer.routine.round import Round, RoundKind
from trainer.wording.sentence_list import say


@dataclass(frozen=True)
class RoundClosed:
    """What of a finished round the end of the session speaks of."""

    exercise_id: str
    title: str
    kind: RoundKind
    spot: tuple[Pitch, ...]
    """The trouble spot practised; empty in other rounds."""
    topic: Topic
    to_mind: str
    """What to play it with in mind: 'listen to C5–D5'."""
    last_time: LastTime | None


def round_closed(
    round_: Round, topic: Topic, to_mind: str, last_time: LastTime | None
) -> RoundClosed:
    """A round as the end of the session remembers it."""
    return RoundClosed(
        round_.exercise_id, round_.title, round_.kind, round_.knot, topic, to_mind, last_time
    )


def closing_words(rounds: Sequence[RoundClosed]) -> tuple[str, ...]:
    """The best thing, tomorrow's thing, what changed: a sentence each, fewer where there is less
    to say; nothing where no round could be judged."""
    judged = [each for each in rounds if each.topic not in UNJUDGED]
    if not judged:
        return ()
    return (*_best(judged), _tomorrow(judged), *_changed(judged))


def _last_of_each(rounds: Sequence[RoundClosed]) -> dict[str, RoundClosed]:
    """How each exercise ended, its trouble spots apart."""
    return {each.exercise_id: each for each in rounds if each.kind is not RoundKind.KNOT}


def _best(rounds: Sequence[RoundClosed]) -> Iterator[str]:
    """The exercise with the most rounds well, of those that ended well."""
    ended_well = [
        name for name, last in _last_of_each(rounds).items() if last.topic is Topic.SECURE
    ]
    if not ended_well:
        return
    well = Counter(each.exercise_id for each in rounds if each.topic is Topic.SECURE)
    best = max(ended_well, key=lambda name: well[name])
    yield say("best today", what=_name(_last_of_each(rounds)[best], rounds))


def _tomorrow(rounds: Sequence[RoundClosed]) -> str:
    """A trouble spot that did not end smooth, else what was said most and not put right."""
    spots = {each.spot: each.topic for each in rounds if each.spot}
    for spot, topic in spots.items():
        if topic not in NO_FAULT:
            return say("tomorrow spot", spot_note=knot_name(spot))
    left = [last for last in _last_of_each(rounds).values() if last.topic not in NO_FAULT]
    if not left:
        return say("tomorrow on")
    said = Counter(each.topic for each in rounds)
    return say("tomorrow", listen=max(left, key=lambda last: said[last.topic]).to_mind)


def _changed(rounds: Sequence[RoundClosed]) -> Iterator[str]:
    """The exercise that changed most in clean notes since an earlier day."""
    changes = [
        (figure, each)
        for each in _last_of_each(rounds).values()
        if each.last_time is not None and each.last_time.when != EARLIER
        for figure in each.last_time.figures
        if figure.name == "clean"
    ]
    if not changes:
        return
    clean, most = max(changes, key=lambda one: abs(one[0].now - one[0].before))
    if clean.better is None or most.last_time is None:
        return
    name = "cleaner" if clean.better else "less clean"
    yield say(name, what=_name(most, rounds), day=most.last_time.when)


def _name(closed: RoundClosed, rounds: Sequence[RoundClosed]) -> str:
    """The exercise's title; the teacher's name for it where another has the same title."""
    alike = {each.exercise_id for each in rounds if each.title == closed.title}
    return closed.title if len(alike) == 1 else closed.exercise_id
