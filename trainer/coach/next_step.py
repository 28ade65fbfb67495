"""What to do now: again, go on, slower, or take the knot out."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.coach import thresholds
from trainer.coach.advice import Advice, NextStep, Proposal, Topic
from trainer.coach.knots import knots_in
from trainer.coach.marks import AimName, Marks
from trainer.routine.round import Round, RoundKind

_SLOWER = 0.85
"""Slow enough to be another task, near enough to be the same music; our own estimate."""
_TRIES = 3
"""Rounds at one tempo and articulation after which repeating alone has not helped."""


def propose(round_: Round, marks: Marks, advice: Advice, earlier: Sequence[Marks] = ()) -> Proposal:
    """The next step and why; `earlier`: marks of this session's rounds, oldest first."""
    if advice.topic in (Topic.UNHEARD, Topic.SOUND):
        return Proposal(NextStep.AGAIN, "The round could not be judged.", round_.tempo_bpm)
    if round_.kind is not RoundKind.KNOT and (knots := knots_in((*earlier, marks))):
        knot = knots[0]
        why = f"{knot.name} went wrong {knot.troubles} of {knot.chances} times: take it out."
        return Proposal(NextStep.TAKE_OUT, why, round_.tempo_bpm)
    if advice.topic is Topic.SECURE:
        return Proposal(NextStep.GO_ON, "Everything asked for was heard.")
    if _came_apart(marks):
        slower_bpm = float(round(_SLOWER * round_.tempo_bpm))
        return Proposal(NextStep.SLOWER, f"Too much slipped at {round_.tempo_bpm:.0f}.", slower_bpm)
    if _tries(marks, earlier) >= _TRIES:
        return Proposal(NextStep.GO_ON, "Enough of this for now; it comes back another day.")
    return Proposal(NextStep.AGAIN, f"Once more, with an ear on {advice.topic}.", round_.tempo_bpm)


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
