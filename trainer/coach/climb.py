"""The speed climb: which tempo comes next, and why.

A gradual rise with a way back. That tempo should rise step by step, one metronome notch at a time
from where the hard place is comfortable, is common practice (J. Wion; P. George); that the rise
must not be mechanical is the point of this module: easy rounds earn larger steps, a round that
comes apart is taken back at once, and the same wall is not run into again and again.
"""

from __future__ import annotations

from dataclasses import replace

from trainer.coach import thresholds
from trainer.coach.advice import Felt, Topic
from trainer.coach.in_turns import after_turn
from trainer.coach.ladder import ClimbState, TempoLadder, start_bpm
from trainer.coach.marks import Marks
from trainer.coach.round_verdict import RoundVerdict, round_verdict
from trainer.routine.model import SLOWEST_BPM
from trainer.wording.sentence_list import say


def begin(ladder: TempoLadder, secure_before_bpm: float | None = None) -> ClimbState:
    """The climb before its first round; `secure_before_bpm`: what was secure the last time."""
    if ladder.in_turns:
        return ClimbState(
            ladder,
            ladder.from_bpm,
            say("slow first", bpm=_bpm(ladder.from_bpm)),
            slow_bpm=ladder.from_bpm,
            goal_bpm=ladder.to_bpm,
        )
    start = start_bpm(ladder, secure_before_bpm)
    name = "start" if start == ladder.from_bpm else "start after last time"
    return ClimbState(ladder, start, say(name, bpm=_bpm(start)))


def after_round(
    state: ClimbState,
    marks: Marks | None,
    felt: Felt | None,
    round_s: float,
    topic: Topic = Topic.SECURE,
) -> ClimbState:
    """The climb after one more round at `state.tempo_bpm`.

    `marks`: None where nobody listened; the player's word alone decides then. `round_s`: the time
    it took, with its count-in and the pause after it. `topic`: what was said of it.
    """
    went = round_verdict(marks, felt, topic)
    spent = replace(state, used_s=state.used_s + round_s, round_s=round_s)
    if state.ladder.in_turns:
        after = after_turn(spent, went)
    elif felt is Felt.HARD and went is RoundVerdict.BROKE:
        after = _after_broke(spent, "found hard")
    elif topic is not Topic.SECURE and went in (RoundVerdict.EASY, RoundVerdict.WELL):
        steps = thresholds.EASY_STEPS if went is RoundVerdict.EASY else 1.0
        after = _climbed(spent, steps, "tempo is fine")
    else:
        after = _NEXT[went](spent)
    return after if after.finished else _in_time(after, state.tempo_bpm)


# What comes next ---------------------------------------------------------------------------------


def _bpm(tempo_bpm: float) -> str:
    return f"{tempo_bpm:.0f}"


def _after_easy(state: ClimbState) -> ClimbState:
    return _climbed(state, thresholds.EASY_STEPS, "easy")


def _after_well(state: ClimbState) -> ClimbState:
    return _climbed(state, 1.0, "well")


def _after_just(state: ClimbState) -> ClimbState:
    if not state.held:
        return replace(state, held=True, why=say("just held", bpm=_bpm(state.tempo_bpm)))
    return _climbed(state, 0.5, "settled at")


def _after_not_clean(state: ClimbState) -> ClimbState:
    """Once more; where the same is in the way again, this tempo does not hold."""
    if not state.held:
        return replace(state, held=True, why=say("not clean yet"))
    return _after_broke(state)


def _after_open(state: ClimbState) -> ClimbState:
    """The student heard it differently: the tempo stays for one round, then goes on by half a
    step; nothing is called secure."""
    if not state.held:
        return replace(state, held=True, why=say("open, hold", bpm=_bpm(state.tempo_bpm)))
    at = state.tempo_bpm
    up = min(state.ladder.to_bpm, _whole_bpm(at, at * (1 + 0.5 * _step_share(state))))
    return replace(state, held=False, tempo_bpm=up, why=say("open, on", bpm=_bpm(up)))


def _after_broke(state: ClimbState, name: str = "too fast yet") -> ClimbState:
    at = state.tempo_bpm
    broke = min(at, state.broke_bpm or at)
    held = tuple(bpm for bpm in state.held_bpm if bpm < at)
    back = (1 - thresholds.STEP_SHARE) * at if held else thresholds.TAKE_BACK * at
    if held:
        back = min(back, (held[-1] + at) / 2) if not state.breaks else min(back, held[-1])
    down = min(at, float(max(int(back), SLOWEST_BPM)))
    return replace(
        state,
        tempo_bpm=down,
        why=say(name, bpm=_bpm(down)) if down < at else say("as slow as it goes"),
        held_bpm=held,
        broke_bpm=broke,
        breaks=state.breaks + 1,
        good_rounds=0,
        held=False,
    )


def _after_unknown(state: ClimbState) -> ClimbState:
    return replace(state, why=say("too little to climb"))


def _after_unheard(state: ClimbState) -> ClimbState:
    """Up by one step, and nothing called secure."""
    up = min(
        state.ladder.to_bpm, _whole_bpm(state.tempo_bpm, (1 + _step_share(state)) * state.tempo_bpm)
    )
    return replace(state, tempo_bpm=up, why=say("felt decides", bpm=_bpm(up)))


_NEXT = {
    RoundVerdict.EASY: _after_easy,
    RoundVerdict.WELL: _after_well,
    RoundVerdict.JUST: _after_just,
    RoundVerdict.NOT_CLEAN: _after_not_clean,
    RoundVerdict.OPEN: _after_open,
    RoundVerdict.BROKE: _after_broke,
    RoundVerdict.UNKNOWN: _after_unknown,
    RoundVerdict.UNHEARD: _after_unheard,
}


def _climbed(state: ClimbState, steps: float, name: str) -> ClimbState:
    """This tempo is secure; up by so many steps, or done. `name`: of the sentence that says so."""
    at, goal = state.tempo_bpm, state.ladder.to_bpm
    state = replace(
        state,
        held_bpm=tuple(sorted({*state.held_bpm, at})),
        best_bpm=max(at, state.best_bpm or at),
        good_rounds=state.good_rounds + 1,
        held=False,
    )
    if at >= goal:
        return replace(state, finished=True, why=say("goal"))
    if state.broke_bpm is not None and at >= state.broke_bpm:
        state = replace(state, broke_bpm=None, breaks=min(state.breaks, 1))
    up = min(goal, _whole_bpm(at, at * (1 + steps * _step_share(state))))
    if state.broke_bpm is None:
        return replace(state, tempo_bpm=up, why=say(name, bpm=_bpm(up)))
    return _towards_the_wall(state, up)


def _towards_the_wall(state: ClimbState, up: float) -> ClimbState:
    """Below a tempo that came apart: in halves, once more at it, then no further today."""
    at, wall = state.tempo_bpm, state.broke_bpm or up
    halfway = float(round((at + wall) / 2))
    if at + thresholds.LEAST_BPM <= halfway < wall:
        up = min(up, halfway)
        return replace(state, tempo_bpm=up, why=say("gently up", bpm=_bpm(up)))
    again = replace(state, tempo_bpm=wall, why=say("that tempo again", bpm=_bpm(wall)))
    if state.breaks < thresholds.MOST_BREAKS and state.good_rounds >= thresholds.BEFORE_THE_WALL:
        return again
    settled = state.good_rounds >= thresholds.SETTLED_ROUNDS
    if settled and _time_for_another_try(state) and _may_be_a_slip(state, wall):
        return again
    if state.breaks >= thresholds.MOST_BREAKS and settled:
        return replace(state, finished=True, why=say("tempo of today"))
    return replace(state, why=say("stay and settle"))


_SURELY_BELOW = 0.95
"""A tempo this much below one that has held may have come apart by a slip. Our own estimate."""


def _may_be_a_slip(state: ClimbState, wall: float) -> bool:
    """The tempo that came apart was hardly tried, or lies well below one that has held."""
    held_before = state.best_bpm is not None and wall <= _SURELY_BELOW * state.best_bpm
    most = thresholds.LAST_BREAKS if held_before else thresholds.MOST_BREAKS
    return state.breaks <= most


def _time_for_another_try(state: ClimbState) -> bool:
    """A tempo may have come apart by a slip; with time in hand it is worth one more look."""
    return state.rounds_left > thresholds.SETTLED_ROUNDS + 1


def _step_share(state: ClimbState) -> float:
    """The step the time asks for, within what is small; a share of the tempo."""
    rounds = state.rounds_left - thresholds.ROUNDS_IN_HAND
    if rounds < 1:
        return thresholds.STEP_SHARE
    needed = (state.ladder.to_bpm / state.tempo_bpm) ** (1 / rounds) - 1
    return float(min(max(needed, thresholds.LEAST_STEP), thresholds.LARGEST_STEP))


def _whole_bpm(at: float, up: float) -> float:
    return float(max(round(up), int(at) + thresholds.LEAST_BPM))


def _in_time(state: ClimbState, played_bpm: float) -> ClimbState:
    """Finished when the next round, longer if slower, no longer fits into the time."""
    next_s = state.round_s * max(1.0, played_bpm / state.tempo_bpm)
    if state.used_s + next_s <= 60 * state.ladder.minutes:
        return state
    return replace(state, finished=True, why=say("time is up"))
