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
    held: bool = False
    """The last round only just held, and this tempo is being played again."""
    used_s: float = 0.0
    """Time spent, with count-ins and pauses."""
    round_s: float = 0.0
    """The last round's time, with its count-in and pause."""

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


def begin(ladder: Ladder) -> ClimbState:
    """The climb before its first round."""
    return ClimbState(ladder, ladder.from_bpm, f"We start at {ladder.from_bpm:.0f}.")


def after_round(
    state: ClimbState, marks: Marks | None, felt: Felt | None, round_s: float
) -> ClimbState:
    """The climb after one more round at `state.tempo_bpm`.

    `marks`: None where nobody listened; the player's word alone decides then.
    `round_s`: the time it took, with its count-in and the pause after it.
    """
    went = how_it_went(marks, felt)
    spent = replace(state, used_s=state.used_s + round_s, round_s=round_s)
    after = _NEXT[went](spent)
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


def _climbed(state: ClimbState, steps: float, because: str) -> ClimbState:
    """This tempo is secure; up by so many steps, or done."""
    at, goal = state.tempo_bpm, state.ladder.to_bpm
    state = replace(
        state,
        held_bpm=tuple(sorted({*state.held_bpm, at})),
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
    if state.breaks >= thresholds.MOST_BREAKS and state.good_rounds >= thresholds.SETTLED_ROUNDS:
        return replace(
            state, finished=True, why=f"{because}: that is the tempo for today, and it is secure."
        )
    return replace(state, why=f"{because}: stay here and let it settle.")


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
