"""The speed climb: which tempo comes next, and why.

A gradual rise with a way back. That tempo should rise step by step, one metronome notch at a time
from where the hard place is comfortable, is common practice (J. Wion; P. George); that the rise
must not be mechanical is the point of this module: easy rounds earn larger steps, a round that
comes apart is taken back at once, and the same wall is not run into again and again.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from trainer.coach import thresholds
from trainer.coach.marks import AimName, Marks


class Felt(StrEnum):
    """How the player says the round felt."""

    EASY = "easy"
    FINE = "fine"
    HARD = "hard"


class Went(StrEnum):
    """How the round went, by what was heard and what the player says."""

    EASY = "easy"
    WELL = "well"
    JUST = "just"
    BROKE = "broke"
    UNKNOWN = "unknown"
    """Too little was heard."""
    UNHEARD = "unheard"
    """Nobody listened, and the player said nothing."""


@dataclass(frozen=True)
class Ladder:
    """What the teacher asks of a speed climb."""

    from_bpm: float
    to_bpm: float
    minutes: float
    in_turns: bool = False
    """A slow round and one at the goal in turns, instead of step by step."""


@dataclass(frozen=True)
class ClimbState:
    """Where the climb stands; `tempo_bpm` is the round to play next."""

    ladder: Ladder
    tempo_bpm: float
    why: str
    """One sentence: why this tempo."""
    finished: bool = False
    held_bpm: tuple[float, ...] = ()
    """Tempos at which the aims were met, and nothing came apart at or below since; rising."""
    broke_bpm: float | None = None
    """The slowest tempo at which it came apart and has not been secure since."""
    breaks: int = 0
    """How often it came apart at or near `broke_bpm`."""
    good_rounds: int = 0
    """Rounds in a row that went well, or just held, since the last step back."""
    best_bpm: float | None = None
    """The fastest tempo at which the aims were ever met in this climb."""
    held: bool = False
    """The last round only just held, and this tempo is being played again."""
    used_s: float = 0.0
    """Time spent, with count-ins and pauses."""
    round_s: float = 0.0
    """The last round's time, with its count-in and pause."""
    slow_bpm: float | None = None
    """In turns: the tempo of the slow rounds."""
    goal_bpm: float | None = None
    """In turns: what the quick rounds aim at today."""

    @property
    def secure_bpm(self) -> float | None:
        """The fastest tempo at which the aims were met; None before there is one."""
        return self.held_bpm[-1] if self.held_bpm else None

    @property
    def rounds_left(self) -> int:
        """Whole rounds that still fit, were they no shorter than the last."""
        if not self.round_s:
            return 0
        return int((60 * self.ladder.minutes - self.used_s) / self.round_s)

    @property
    def reachable_bpm(self) -> float:
        """Where the time left should lead, the goal at most; no promise."""
        usual = self.tempo_bpm * (1 + thresholds.STEP_SHARE) ** max(0, self.rounds_left - 1)
        wall = self.ladder.to_bpm if self.broke_bpm is None else self.broke_bpm
        return min(self.ladder.to_bpm, wall, max(usual, self.secure_bpm or 0.0))

    @property
    def reachable(self) -> bool:
        """The goal can still be reached in the time left."""
        return self.reachable_bpm >= self.ladder.to_bpm

    @property
    def start_tomorrow_bpm(self) -> float:
        """A little under what was secure, so that tomorrow begins easily."""
        if self.secure_bpm is None:
            return float(round(thresholds.TAKE_BACK * self.tempo_bpm))
        below = round(thresholds.TOMORROW * self.secure_bpm)
        return float(max(below, min(self.ladder.from_bpm, self.secure_bpm)))

    @property
    def closing(self) -> str:
        """What is secure, and where to start tomorrow, in one sentence."""
        if self.secure_bpm is None:
            return f"No tempo is secure yet; tomorrow from {self.start_tomorrow_bpm:.0f}."
        return f"{self.secure_bpm:.0f} is secure; tomorrow from {self.start_tomorrow_bpm:.0f}."


def begin(ladder: Ladder, secure_before_bpm: float | None = None) -> ClimbState:
    """The climb before its first round; `secure_before_bpm`: what was secure the last time.

    It begins a little under that, never below the teacher's start nor above the goal.
    """
    if ladder.in_turns:
        return ClimbState(
            ladder,
            ladder.from_bpm,
            f"Slow first, at {ladder.from_bpm:.0f}; then the goal.",
            slow_bpm=ladder.from_bpm,
            goal_bpm=ladder.to_bpm,
        )
    start = ladder.from_bpm
    if secure_before_bpm is not None:
        start = min(
            max(start, float(round(thresholds.TOMORROW * secure_before_bpm))), ladder.to_bpm
        )
    since = "" if start == ladder.from_bpm else f": {secure_before_bpm:.0f} was secure last time"
    return ClimbState(ladder, start, f"We start at {start:.0f}{since}.")


def after_round(
    state: ClimbState, marks: Marks | None, felt: Felt | None, round_s: float
) -> ClimbState:
    """The climb after one more round at `state.tempo_bpm`.

    `marks`: None where nobody listened; the player's word alone decides then.
    `round_s`: the time it took, with its count-in and the pause after it.
    """
    went = how_it_went(marks, felt)
    spent = replace(state, used_s=state.used_s + round_s, round_s=round_s)
    after = after_turn(spent, went) if state.ladder.in_turns else _NEXT[went](spent)
    return after if after.finished else _in_time(after, state.tempo_bpm)


def how_it_went(marks: Marks | None, felt: Felt | None = None) -> Went:
    """One word for a round. The player's word moves it by one, except that nothing heard to come
    apart is called easy; where nobody listened, it decides."""
    if marks is None:
        return Went.UNHEARD if felt is None else _BY_WORD[felt]
    strain = _strain(marks)
    if strain is None:
        return Went.UNKNOWN
    ways = [Went.EASY, Went.WELL, Went.JUST, Went.BROKE]
    place = sum(strain > limit for limit in thresholds.STRAINS)
    if felt is Felt.HARD:
        place = min(place + 1, len(ways) - 1)
    if felt is Felt.EASY and ways[place] is not Went.BROKE:
        place = max(place - 1, 0)
    return ways[place]


def _strain(marks: Marks) -> float | None:
    """Unevenness or trouble against what is allowed, the worse of the two; 1 is the limit.

    One slip is forgiven in every round: it says nothing about the tempo.
    """
    judged = marks.judged
    if len(judged) < thresholds.ENOUGH_SHARE * len(marks.notes) or marks.spread_ms is None:
        return None
    asked = [aim.asked for aim in marks.aims if aim.name is AimName.CLEAN]
    allowed = max(1 - (asked[0] if asked else thresholds.CLIMB_CLEAN), thresholds.LEAST_ALLOWED)
    troubled = max(0, sum(note.troubled for note in judged) - 1) / len(judged)
    uneven = 0.0 if marks.blurred else marks.spread_ms / marks.evenness_limit_ms
    return max(uneven, troubled / allowed)


# What comes next ---------------------------------------------------------------------------------


def _after_easy(state: ClimbState) -> ClimbState:
    at = state.tempo_bpm
    return _climbed(state, thresholds.EASY_STEPS, f"That was easy at {at:.0f}")


def _after_well(state: ClimbState) -> ClimbState:
    return _climbed(state, 1.0, f"{state.tempo_bpm:.0f} went well")


def _after_just(state: ClimbState) -> ClimbState:
    at = state.tempo_bpm
    if not state.held:
        return replace(state, held=True, why=f"{at:.0f} just held: once more here.")
    return _climbed(state, 0.5, f"{at:.0f} has settled")


def _after_broke(state: ClimbState) -> ClimbState:
    at = state.tempo_bpm
    broke = min(at, state.broke_bpm or at)
    held = tuple(bpm for bpm in state.held_bpm if bpm < at)
    back = (1 - thresholds.STEP_SHARE) * at if held else thresholds.TAKE_BACK * at
    if held:
        back = min(back, (held[-1] + at) / 2) if not state.breaks else min(back, held[-1])
    return replace(
        state,
        tempo_bpm=float(max(int(back), thresholds.SLOWEST_BPM)),
        why=f"It came apart at {at:.0f}: back to where it holds.",
        held_bpm=held,
        broke_bpm=broke,
        breaks=state.breaks + 1,
        good_rounds=0,
        held=False,
    )


def _after_unknown(state: ClimbState) -> ClimbState:
    return replace(state, why="Too little could be heard to judge: the same tempo again.")


def _after_unheard(state: ClimbState) -> ClimbState:
    """Up by one step, and nothing called secure."""
    up = min(
        state.ladder.to_bpm, _whole_bpm(state.tempo_bpm, (1 + _step_share(state)) * state.tempo_bpm)
    )
    return replace(
        state, tempo_bpm=up, why=f"Nobody listened: {up:.0f} if that felt well, or say it was hard."
    )


_BY_WORD = {Felt.EASY: Went.EASY, Felt.FINE: Went.WELL, Felt.HARD: Went.BROKE}
_NEXT = {
    Went.EASY: _after_easy,
    Went.WELL: _after_well,
    Went.JUST: _after_just,
    Went.BROKE: _after_broke,
    Went.UNKNOWN: _after_unknown,
    Went.UNHEARD: _after_unheard,
}


def after_turn(state: ClimbState, went: Went) -> ClimbState:
    """Slow and goal in turns, as a teacher may choose instead of steps.

    Slow and full tempo in turns did at least as well as a gradual rise, and both better than full
    tempo alone (Henley 2001, JRME 49:169, read second-hand).
    """
    slow, goal = state.slow_bpm or state.ladder.from_bpm, state.goal_bpm or state.ladder.to_bpm
    if went in (Went.UNKNOWN, Went.UNHEARD):
        up = goal if went is Went.UNHEARD and state.tempo_bpm <= slow else slow
        return replace(state, tempo_bpm=up, why=f"Not judged: {up:.0f} now.")
    if state.tempo_bpm < goal:
        return _after_slow(state, went, slow, goal)
    return _after_goal(state, went, slow, goal)


def _after_slow(state: ClimbState, went: Went, slow: float, goal: float) -> ClimbState:
    if went is Went.BROKE:
        slower = float(max(round(thresholds.TAKE_BACK * slow), thresholds.SLOWEST_BPM))
        return replace(state, tempo_bpm=slower, slow_bpm=slower, why=f"Slower first: {slower:.0f}.")
    held = state.held_bpm if went is Went.JUST else tuple(sorted({*state.held_bpm, slow}))
    return replace(state, held_bpm=held, tempo_bpm=goal, why=f"Now the goal, {goal:.0f}, once.")


def _after_goal(state: ClimbState, went: Went, slow: float, goal: float) -> ClimbState:
    """A goal that holds twice is reached; one that keeps breaking comes nearer for today."""
    if went in (Went.EASY, Went.WELL):
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
    if went is Went.JUST:
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


def _climbed(state: ClimbState, steps: float, because: str) -> ClimbState:
    """This tempo is secure; up by so many steps, or done."""
    at, goal = state.tempo_bpm, state.ladder.to_bpm
    state = replace(
        state,
        held_bpm=tuple(sorted({*state.held_bpm, at})),
        best_bpm=max(at, state.best_bpm or at),
        good_rounds=state.good_rounds + 1,
        held=False,
    )
    if at >= goal:
        return replace(state, finished=True, why=f"{because}: the goal is reached.")
    if state.broke_bpm is not None and at >= state.broke_bpm:
        state = replace(state, broke_bpm=None, breaks=min(state.breaks, 1))
    up = min(goal, _whole_bpm(at, at * (1 + steps * _step_share(state))))
    if state.broke_bpm is None:
        return replace(state, tempo_bpm=up, why=f"{because}: up to {up:.0f}.")
    return _towards_the_wall(state, up, because)


def _towards_the_wall(state: ClimbState, up: float, because: str) -> ClimbState:
    """Below a tempo that came apart: in halves, once more at it, then no further today."""
    at, wall = state.tempo_bpm, state.broke_bpm or up
    halfway = float(round((at + wall) / 2))
    if at + thresholds.LEAST_BPM <= halfway < wall:
        up = min(up, halfway)
        return replace(state, tempo_bpm=up, why=f"{because}: gently up to {up:.0f}.")
    if state.breaks < thresholds.MOST_BREAKS and state.good_rounds >= thresholds.BEFORE_THE_WALL:
        return replace(state, tempo_bpm=wall, why=f"{because}: {wall:.0f} once more.")
    settled = state.good_rounds >= thresholds.SETTLED_ROUNDS
    if settled and _time_for_another_try(state) and _may_be_a_slip(state, wall):
        return replace(state, tempo_bpm=wall, why=f"{because}, and has settled: {wall:.0f} again.")
    if state.breaks >= thresholds.MOST_BREAKS and settled:
        return replace(
            state, finished=True, why=f"{because}: that is the tempo for today, and it is secure."
        )
    return replace(state, why=f"{because}: stay here and let it settle.")


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
    secure = f"{state.secure_bpm:.0f} is secure" if state.secure_bpm else "no tempo is secure yet"
    return replace(state, finished=True, why=f"The time is up: {secure}.")
