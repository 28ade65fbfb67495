"""The speed climb: which tempo comes next, and why.

A gradual rise with a way back. That tempo should rise step by step, one metronome notch at a time
from where the hard place is comfortable, is common practice (J. Wion; P. George); that the rise
must not be mechanical is the point of this module: easy rounds earn larger steps; a round that
comes apart is taken back at once to what held, and steps are small from then on; a tempo that came
apart is gone beyond only where it has held since, with little in doubt.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from trainer.coach import thresholds
from trainer.coach.advice import Felt, Topic
from trainer.coach.in_turns import after_turn
from trainer.coach.ladder import ClimbState, TempoLadder, start_bpm
from trainer.coach.marks import Marks
from trainer.coach.round_verdict import RoundVerdict, by_strain, round_verdict, strain_of
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
    went = verdict_in(state, marks, felt, topic)
    spent = replace(state, used_s=state.used_s + round_s, round_s=round_s)
    if state.ladder.in_turns:
        after = after_turn(spent, went)
    elif went is RoundVerdict.BROKE:
        name = "found hard" if felt is Felt.HARD else "too fast yet"
        after = _taken_back(spent, name, _badly(marks, felt))
    elif went in (RoundVerdict.EASY, RoundVerdict.WELL):
        name = str(went) if topic is Topic.SECURE else "tempo is fine"
        after = _climbed(spent, _steps(went), name)
    elif went is RoundVerdict.JUST:
        after = _after_just(spent, "hard, once more" if felt is Felt.HARD else "just held")
    else:
        after = _OTHERWISE[went](spent)
    return after if after.finished else _in_time(after, state.tempo_bpm)


def verdict_in(
    state: ClimbState, marks: Marks | None, felt: Felt | None, topic: Topic
) -> RoundVerdict:
    """One word for the round just played at `state.tempo_bpm`.

    From a tempo on that came apart today, notes left in doubt count in part: as likely the player's
    as the ear's, they are no evidence that it holds now.
    """
    went = round_verdict(marks, felt, topic)
    good = went in (RoundVerdict.EASY, RoundVerdict.WELL)
    if marks is None or not good or not _apart_up_to(state) or state.ladder.in_turns:
        return went
    in_doubt = by_strain(marks, thresholds.DOUBTED_AGAIN)
    if in_doubt is RoundVerdict.BROKE:
        return RoundVerdict.UNSURE
    return in_doubt if in_doubt is RoundVerdict.JUST else went


# What comes next ---------------------------------------------------------------------------------


def _bpm(tempo_bpm: float) -> str:
    return f"{tempo_bpm:.0f}"


def _steps(went: RoundVerdict) -> float:
    return thresholds.EASY_STEPS if went is RoundVerdict.EASY else 1.0


def _badly(marks: Marks | None, felt: Felt | None) -> bool:
    """Far beyond what is allowed."""
    strain = None if marks is None else strain_of(marks, float(felt is Felt.HARD))
    return strain is not None and strain > thresholds.BADLY_STRAIN


def _apart_up_to(state: ClimbState) -> list[float]:
    """Tempos no faster than this one that came apart and have not held well enough since."""
    return [bpm for bpm in state.came_apart_bpm if bpm <= state.tempo_bpm]


def _after_just(state: ClimbState, name: str) -> ClimbState:
    """Once more; held again, it is settled, and no reason to go where it came apart."""
    if not state.held:
        return replace(state, held=True, why=say(name, bpm=_bpm(state.tempo_bpm)))
    if state.wall_bpm is None or state.wall_bpm <= state.tempo_bpm:
        return _climbed(state, 0.5, "settled at")
    held = tuple(sorted({*state.held_bpm, state.tempo_bpm}))
    return replace(state, held_bpm=held, held=False, why=say("stay and settle"))


def _after_not_clean(state: ClimbState) -> ClimbState:
    """Back to what held, where anything slower did; else once more, and back if it is so again."""
    if state.held_bpm and state.tempo_bpm > state.held_bpm[-1]:
        return _taken_back(state, "clean first")
    if not state.held:
        return replace(state, held=True, why=say("not clean yet"))
    return _taken_back(state, "too fast yet")


def _after_open(state: ClimbState) -> ClimbState:
    """The student heard it differently: the tempo stays for one round, then goes on by half a
    step; nothing is called secure."""
    if not state.held:
        return replace(state, held=True, why=say("open, hold", bpm=_bpm(state.tempo_bpm)))
    at = state.tempo_bpm
    up = min(state.ladder.to_bpm, _whole_bpm(at, at * (1 + 0.5 * _step_share(state))))
    return replace(state, held=False, tempo_bpm=up, why=say("open, on", bpm=_bpm(up)))


def _after_unsure(state: ClimbState) -> ClimbState:
    return _taken_back(state, "not sure enough")


def _taken_back(state: ClimbState, name: str, badly: bool = False) -> ClimbState:
    """Back to what held, or lower; `name`: of the sentence that says so."""
    at = state.tempo_bpm
    held = tuple(bpm for bpm in state.held_bpm if bpm < at)
    back = _back_bpm(at, held, badly)
    down = min(at, float(max(int(back), SLOWEST_BPM)))
    return replace(
        state,
        tempo_bpm=down,
        why=say(name, bpm=_bpm(down)) if down < at else say("as slow as it goes"),
        held_bpm=held,
        came_apart_bpm=tuple(sorted((*state.came_apart_bpm, *(at,) * (1 + badly)))),
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


_OTHERWISE = {
    RoundVerdict.NOT_CLEAN: _after_not_clean,
    RoundVerdict.UNSURE: _after_unsure,
    RoundVerdict.OPEN: _after_open,
    RoundVerdict.UNKNOWN: _after_unknown,
    RoundVerdict.UNHEARD: _after_unheard,
}


def _back_bpm(at: float, held: tuple[float, ...], badly: bool) -> float:
    """Never above the fastest that held; further where it came apart badly."""
    if not held:
        return thresholds.TAKE_BACK * at
    steps = thresholds.BADLY_STEPS if badly else 1.0
    return min(held[-1], (1 - steps * thresholds.STEP_SHARE) * at)


def _held_again(state: ClimbState) -> tuple[float, ...]:
    """What came apart, less one time for each tempo that this one, which held, reaches."""
    left = Counter(state.came_apart_bpm)
    left.subtract({*_apart_up_to(state)})
    return tuple(sorted(left.elements()))


def _climbed(state: ClimbState, steps: float, name: str) -> ClimbState:
    """This tempo is secure; up by so many steps, or done. `name`: of the sentence that says so."""
    at, goal = state.tempo_bpm, state.ladder.to_bpm
    state = replace(
        state,
        held_bpm=tuple(sorted({*state.held_bpm, at})),
        best_bpm=max(at, state.best_bpm or at),
        came_apart_bpm=_held_again(state),
        good_rounds=state.good_rounds + 1,
        held=False,
    )
    if at >= goal:
        return replace(state, finished=True, why=say("goal"))
    if _apart_up_to(state):
        return replace(state, why=say("held, once more"))
    share = _step_share(state)
    if state.breaks:
        steps, share = min(steps, 1.0), min(share, thresholds.STEP_SHARE)
    up = min(goal, _whole_bpm(at, at * (1 + steps * share)))
    if state.wall_bpm is None:
        return replace(state, tempo_bpm=up, why=say(name, bpm=_bpm(up)))
    return _towards_the_wall(state, up, state.wall_bpm)


def _towards_the_wall(state: ClimbState, up: float, wall: float) -> ClimbState:
    """Below a tempo that came apart: in halves, once more at it, then no further today."""
    at = state.tempo_bpm
    halfway = float(round((at + wall) / 2))
    if at + thresholds.LEAST_BPM <= halfway < wall:
        up = min(up, halfway)
        return replace(state, tempo_bpm=up, why=say("gently up", bpm=_bpm(up)))
    if state.good_rounds < thresholds.SETTLED_ROUNDS:
        return replace(state, why=say("stay and settle"))
    if state.came_apart_bpm.count(wall) < thresholds.MOST_APART:
        return replace(state, tempo_bpm=wall, why=say("that tempo again", bpm=_bpm(wall)))
    return replace(state, finished=True, why=say("tempo of today"))


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
