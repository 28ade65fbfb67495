"""A speed climb by a slow round and one at the goal in turns, as a teacher may choose."""

from __future__ import annotations

from dataclasses import replace

from trainer.coach import thresholds
from trainer.coach.ladder import ClimbState
from trainer.coach.round_verdict import RoundVerdict
from trainer.routine.model import SLOWEST_BPM
from trainer.wording.sentence_list import say


def after_turn(state: ClimbState, went: RoundVerdict) -> ClimbState:
    """Slow and goal in turns, as a teacher may choose instead of steps.

    Slow and full tempo in turns did at least as well as a gradual rise, and both better than full
    tempo alone (Henley 2001, JRME 49:169, read second-hand).
    """
    slow, goal = state.slow_bpm or state.ladder.from_bpm, state.goal_bpm or state.ladder.to_bpm
    if went in (RoundVerdict.UNKNOWN, RoundVerdict.UNHEARD):
        up = goal if went is RoundVerdict.UNHEARD and state.tempo_bpm <= slow else slow
        return replace(state, tempo_bpm=up, why=say("not judged in turns", bpm=f"{up:.0f}"))
    if state.tempo_bpm < goal:
        return _after_slow(state, went, slow, goal)
    return _after_goal(state, went, slow, goal)


def _after_slow(state: ClimbState, went: RoundVerdict, slow: float, goal: float) -> ClimbState:
    if went is RoundVerdict.BROKE:
        slower = min(slow, float(max(round(thresholds.TAKE_BACK * slow), SLOWEST_BPM)))
        name = "slower first" if slower < slow else "as slow as it goes"
        why = say(name, bpm=f"{slower:.0f}")
        return replace(state, tempo_bpm=slower, slow_bpm=slower, why=why)
    if went is RoundVerdict.NOT_CLEAN and not state.held:
        return replace(state, held=True, why=say("not clean yet"))
    holds = went in (RoundVerdict.EASY, RoundVerdict.WELL)
    held = tuple(sorted({*state.held_bpm, slow})) if holds else state.held_bpm
    why = say("goal now", bpm=f"{goal:.0f}")
    return replace(state, held_bpm=held, held=False, tempo_bpm=goal, why=why)


def _after_goal(state: ClimbState, went: RoundVerdict, slow: float, goal: float) -> ClimbState:
    """A goal that holds twice is reached; one that keeps breaking comes nearer for today."""
    slow_words = f"{slow:.0f}"
    if went in (RoundVerdict.EASY, RoundVerdict.WELL):
        state = replace(
            state,
            held_bpm=tuple(sorted({*state.held_bpm, goal})),
            good_rounds=state.good_rounds + 1,
            breaks=0,
        )
        if state.good_rounds >= thresholds.GOAL_TIMES:
            name = "goal twice" if goal == state.ladder.to_bpm else "today's tempo twice"
            return replace(state, finished=True, why=say(name))
        return replace(state, tempo_bpm=slow, why=say("goal went well", bpm=slow_words))
    if went in _NEITHER:
        return replace(state, tempo_bpm=slow, why=say(_NEITHER[went], bpm=slow_words))
    broken = replace(state, good_rounds=0, breaks=state.breaks + 1, came_apart_bpm=(goal,))
    if broken.breaks < thresholds.MOST_BREAKS:
        return replace(broken, tempo_bpm=slow, why=say("goal came apart", bpm=slow_words))
    nearer = float(max(round((slow + goal) / 2), slow + thresholds.LEAST_BPM))
    if nearer >= goal:
        return replace(broken, tempo_bpm=slow, why=say("stay slow", bpm=slow_words))
    return replace(
        broken,
        tempo_bpm=slow,
        goal_bpm=nearer,
        breaks=0,
        why=say("goal nearer", bpm=f"{nearer:.0f}"),
    )


_NEITHER = {
    RoundVerdict.JUST: "goal just held",
    RoundVerdict.NOT_CLEAN: "goal not clean",
    RoundVerdict.OPEN: "goal open",
}
"""The sentence for a goal that neither held well nor came apart."""
