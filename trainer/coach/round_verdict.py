"""One word for how a round went: what was said of it, what was heard, what the player says.

A round of which something was said that stands in the way of a faster tempo is never called easy,
nor said to have gone well; where the student heard it differently, it is left open.
"""

from __future__ import annotations

from enum import StrEnum

from trainer.coach import thresholds
from trainer.coach.advice import IN_THE_WAY, UNJUDGED, Felt, Topic
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
    UNSURE = "unsure"
    """It went well but for notes left in doubt, too many where the tempo came apart before."""


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
    if topic in UNJUDGED:
        return RoundVerdict.UNKNOWN
    if topic is Topic.LEFT_OPEN:
        return RoundVerdict.BROKE if felt is Felt.HARD else RoundVerdict.OPEN
    by_ear = _by_ear(marks, felt)
    in_the_way = topic in IN_THE_WAY and by_ear not in (RoundVerdict.BROKE, RoundVerdict.UNKNOWN)
    return RoundVerdict.NOT_CLEAN if in_the_way else by_ear


def by_strain(marks: Marks, doubted: float) -> RoundVerdict:
    """What the strain alone says; `doubted` as in `strain_of`."""
    strain = strain_of(marks, doubted)
    if strain is None:
        return RoundVerdict.UNKNOWN
    return _PLACES[sum(strain > limit for limit in thresholds.STRAINS)]


_PLACES = (RoundVerdict.EASY, RoundVerdict.WELL, RoundVerdict.JUST, RoundVerdict.BROKE)


def _by_ear(marks: Marks, felt: Felt | None) -> RoundVerdict:
    """What was found hard is no reason to go faster; what is in doubt was not easy."""
    heard = by_strain(marks, float(felt is Felt.HARD))
    if heard is RoundVerdict.UNKNOWN:
        return heard
    place = _PLACES.index(heard)
    if felt is Felt.HARD:
        place = max(place + 1, _PLACES.index(RoundVerdict.JUST))
    if felt is Felt.EASY and place < len(_PLACES) - 1:
        place = max(place - 1, 0)
    if any(note.doubted for note in marks.notes):
        place = max(place, _PLACES.index(RoundVerdict.WELL))
    return _PLACES[min(place, len(_PLACES) - 1)]


def strain_of(marks: Marks, doubted: float) -> float | None:
    """Unevenness or trouble against what is allowed, the worse of the two; 1 is the limit, None
    where too little was heard.

    One slip is forgiven in every round: it says nothing about the tempo. `doubted`: how much of a
    slip a note is that stayed silent and was left unjudged (`lone_misses`), 0 to 1.
    """
    judged = marks.judged
    if len(judged) < ENOUGH_SHARE * len(marks.notes) or marks.spread_ms is None:
        return None
    asked = [aim.asked for aim in marks.aims if aim.name is AimName.CLEAN]
    allowed = max(1 - (asked[0] if asked else thresholds.CLIMB_CLEAN), thresholds.LEAST_ALLOWED)
    in_doubt = doubted * sum(note.doubted for note in marks.notes)
    slips = in_doubt + sum(note.troubled for note in judged)
    troubled = max(0.0, slips - 1) / len(judged)
    uneven = 0.0 if marks.blurred else marks.spread_ms / marks.evenness_limit_ms
    return max(uneven, troubled / allowed)
