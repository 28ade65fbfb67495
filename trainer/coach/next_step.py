"""What to do now, as the advice has it: again, go on, slower, or the trouble spot alone."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.coach import thresholds
from trainer.coach.advice import ABOUT, IN_THE_WAY, UNJUDGED, Advice, NextStep, Proposal, Topic
from trainer.coach.knots import knots_in
from trainer.coach.marks import AimName, Marks
from trainer.routine.round import Round, RoundKind
from trainer.wording.sentence_list import say

_SLOWER = 0.85
"""Slow enough to be another task, near enough to be the same music; our own estimate."""
_TRIES = 3
"""Rounds at one tempo and articulation after which repeating alone has not helped."""


def propose(round_: Round, marks: Marks, advice: Advice, earlier: Sequence[Marks] = ()) -> Proposal:
    """The next step and why, as the advice has it; `earlier`: marks of this session's rounds,
    oldest first. An empty why: the name of what follows says it."""
    if advice.topic in UNJUDGED:
        return Proposal(NextStep.AGAIN, say("not judged, again"), round_.tempo_bpm)
    if advice.topic in (Topic.SECURE, Topic.LEFT_OPEN):
        return Proposal(NextStep.GO_ON, "")
    if round_.kind is not RoundKind.KNOT and (knots := knots_in((*earlier, marks))):
        why = say("take the spot out", spot_note=knots[0].name)
        return Proposal(NextStep.TAKE_OUT, why, round_.tempo_bpm)
    if advice.topic in IN_THE_WAY and _came_apart(marks):
        slower_bpm = float(round(_SLOWER * round_.tempo_bpm))
        return Proposal(NextStep.SLOWER, say("slower", bpm=f"{slower_bpm:.0f}"), slower_bpm)
    if _tries(marks, earlier) >= _TRIES:
        return Proposal(NextStep.GO_ON, say("enough for today"))
    why = say("again, listen", listen=to_mind(marks, advice))
    return Proposal(NextStep.AGAIN, why, round_.tempo_bpm)


def to_mind(marks: Marks | None, advice: Advice) -> str:
    """What to play it with in mind: 'listen to C5–D5', or 'think of the tuning'."""
    indices = advice.note_indices if marks is not None and advice.topic in _AT_A_PLACE else ()
    pitches = dict.fromkeys(str(marks.notes[index].written) for index in indices if marks)
    if 0 < len(pitches) <= thresholds.KNOT_NOTES:
        return f"listen to {'–'.join(pitches)}"
    return f"think of {ABOUT[advice.topic]}"


_AT_A_PLACE = frozenset({Topic.CROSSING, Topic.BLIP, Topic.LATE_NOTE, Topic.SLOW_TO_SPEAK})


def _came_apart(marks: Marks) -> bool:
    """Notes lost well beyond the aim, or a spread half as wide again as asked."""
    asked = [aim.asked for aim in marks.aims if aim.name is AimName.CLEAN]
    allowed = 1 - min(asked[0] if asked else 1.0, thresholds.CLIMB_CLEAN)
    lost = 1 - (marks.clean_share if marks.clean_share is not None else 1.0)
    uneven = not marks.blurred and (marks.spread_ms or 0.0) > 1.5 * marks.evenness_limit_ms
    return lost > 2 * allowed or uneven


def _tries(marks: Marks, earlier: Sequence[Marks]) -> int:
    """Rounds just now of the same exercise, articulation and tempo, this one among them."""
    tries = 1
    for other in reversed(earlier):
        alike = (other.exercise_id, other.articulation, other.tempo_bpm)
        if alike != (marks.exercise_id, marks.articulation, marks.tempo_bpm):
            break
        tries += 1
    return tries
