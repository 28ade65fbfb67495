"""One word for how a round went: what was said of it, what was heard, what the player says.

A round of which something was said that stands in the way of a faster tempo is never called easy,
nor said to have gone well; where the student heard it differently, it is left open.
"""

from __future__ import annotations

from enum import StrEnum

from trainer.coach import thresholds
from trainer.coach.advice import IN_THE_WAY, Felt, Topic
from trainer.coach.marks import AimName, Marks
from trainer.figures.enough import ENOUGH_SHARE


class RoundVerdict(StrEnum):
    """How the round went, by what was heard and what the player says."""

    EASY = "easy"
    WELL = "well"
    JUST = "just"
    BROKE = "broke"
    UNKNOWN = "unknown"
    """Too little was heard."""
    UNHEARD = "unheard"
    """Nobody listened, and the player said nothing."""
    NOT_CLEAN = "not clean"
    """The tempo could hold, but what was said of the round must go first."""
    OPEN = "open"
    """The student heard it differently."""


_BY_WORD = {
    Felt.EASY: RoundVerdict.EASY,
    Felt.FINE: RoundVerdict.WELL,
    Felt.HARD: RoundVerdict.BROKE,
}


def round_verdict(
    marks: Marks | None, felt: Felt | None = None, topic: Topic = Topic.SECURE
) -> RoundVerdict:
    """One word for a round; `topic`: what was said of it. The player's word moves it by one,
    except that nothing heard to come apart is called easy; where nobody listened, it decides."""
    if marks is None:
        return RoundVerdict.UNHEARD if felt is None else _BY_WORD[felt]
    if topic in (Topic.SOUND, Topic.UNHEARD):
        return RoundVerdict.UNKNOWN
    if topic is Topic.LEFT_OPEN:
        return RoundVerdict.BROKE if felt is Felt.HARD else RoundVerdict.OPEN
    by_ear = _by_ear(marks, felt)
    in_the_way = topic in IN_THE_WAY and by_ear not in (RoundVerdict.BROKE, RoundVerdict.UNKNOWN)
    return RoundVerdict.NOT_CLEAN if in_the_way else by_ear


def _by_ear(marks: Marks, felt: Felt | None) -> RoundVerdict:
    strain = _strain(marks, felt)
    if strain is None:
        return RoundVerdict.UNKNOWN
    ways = [RoundVerdict.EASY, RoundVerdict.WELL, RoundVerdict.JUST, RoundVerdict.BROKE]
    place = sum(strain > limit for limit in thresholds.STRAINS)
    if felt is Felt.HARD:
        place = min(place + 1, len(ways) - 1)
    if felt is Felt.EASY and ways[place] is not RoundVerdict.BROKE:
        place = max(place - 1, 0)
    return ways[place]


def _strain(marks: Marks, felt: Felt | None) -> float | None:
    """Unevenness or trouble against what is allowed, the worse of the two; 1 is the limit.

    One slip is forgiven in every round: it says nothing about the tempo. A note that stayed silent
    and was left unjudged (`lone_misses`) counts where the player found the round hard.
    """
    judged = marks.judged
    if len(judged) < ENOUGH_SHARE * len(marks.notes) or marks.spread_ms is None:
        return None
    asked = [aim.asked for aim in marks.aims if aim.name is AimName.CLEAN]
    allowed = max(1 - (asked[0] if asked else thresholds.CLIMB_CLEAN), thresholds.LEAST_ALLOWED)
    doubtful = sum(note.doubted for note in marks.notes)
    slips = sum(note.troubled for note in judged) + (doubtful if felt is Felt.HARD else 0)
    troubled = max(0, slips - 1) / len(judged)
    uneven = 0.0 if marks.blurred else marks.spread_ms / marks.evenness_limit_ms
    return max(uneven, troubled / allowed)
