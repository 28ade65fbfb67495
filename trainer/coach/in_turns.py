"""A speed climb by a slow round and one at the goal in turns, as a teacher may choose."""

from __future__ import annotations

from dataclasses import replace

from trainer.coach import thresholds
from trainer.coach.ladder import ClimbState
from trainer.coach.round_verdict import RoundVerdict
from trainer.routine.model import SLOWEST_BPM


def after_turn(state: ClimbState, went: RoundVerdict) -> ClimbState:
    """Slow and goal in turns, as a teacher may choose instead of steps.

    Slow and full tempo in turns did at least as well as a gradual rise, and both better than full
    tempo alone (Henley 2001, JRME 49:169, read second-hand).
    """
    slow, goal = state.slow_bpm or state.ladder.from_bpm, state.goal_bpm or state.ladder.to_bpm
    if went in (RoundVerdict.UNKNOWN, RoundVerdict.UNHEARD):
        up = goal if went is RoundVerdict.UNHEARD and state.tempo_bpm <= slow else slow
        return replace(state, tempo_bpm=up, why=f"Not judged: {up:.0f} now.")
    if state.tempo_bpm < goal:
        return _after_slow(state, went, slow, goal)
    return _after_goal(state, went, slow, goal)


def _after_slow(state: ClimbState, went: RoundVerdict, slow: float, goal: float) -> ClimbState:
    if went is RoundVerdict.BROKE:
        slower = min(slow, float(max(round(thresholds.TAKE_BACK * slow), SLOWEST_BPM)))
        what = "Slower first" if slower < slow else "Once more, as slow as it goes"
        return replace(state, tempo_bpm=slower, slow_bpm=slower, why=f"{what}: {slower:.0f}.")
    held = state.held_bpm if went is RoundVerdict.JUST else tuple(sorted({*state.held_bpm, slow}))
    return replace(state, held_bpm=held, tempo_bpm=goal, why=f"Now the goal, {goal:.0f}, once.")


def _after_goal(state: ClimbState, went: RoundVerdict, slow: float, goal: float) -> ClimbState:
    """A goal that holds twice is reached; one that keeps breaking comes nearer for today."""
    if went in (RoundVerdict.EASY, RoundVerdict.WELL):
        state = replace(
            state,
            held_bpm=tuple(sorted({*state.held_bpm, goal})),
            good_rounds=state.good_rounds + 1,
            breaks=0,
        )
        if state.good_rounds >= thresholds.GOAL_TIMES:
            where = "the goal" if goal == state.ladder.to_bpm else "today's tempo"
            return replace(state, finished=True, why=f"{goal:.0f} went well again: {where}.")
        return replace(state, tempo_bpm=slow, why=f"{goal:.0f} went well: slow once more.")
    if went is RoundVerdict.JUST:
        return replace(state, tempo_bpm=slow, why=f"{goal:.0f} just held: slow again.")
    broken = replace(
        state, good_rounds=0, breaks=state.breaks + 1, broke_bpm=goal, held_bpm=state.held_bpm
    )
    if broken.breaks < thresholds.MOST_BREAKS:
        return replace(broken, tempo_bpm=slow, why=f"It came apart at {goal:.0f}: slow again.")
    nearer = float(max(round((slow + goal) / 2), slow + thresholds.LEAST_BPM))
    if nearer >= goal:
        return replace(
            broken, tempo_bpm=slow, why=f"It came apart at {goal:.0f}: stay slow for today."
        )
    return replace(
        broken,
        tempo_bpm=slow,
        goal_bpm=nearer,
        breaks=0,
        why=f"{goal:.0f} is far today: slow again, then {nearer:.0f}.",
    )
