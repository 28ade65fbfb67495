"""The speed climb, tried on simulated learners whose true limit the ladder can't see."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.coach.advice import Felt, Topic
from trainer.coach.climb import after_round, begin, verdict_in
from trainer.coach.ladder import ClimbState, TempoLadder
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.round_verdict import RoundVerdict, round_verdict
from trainer.music.note import Articulation, Start
from trainer.music.pitch import Pitch
from trainer.routine.round import RoundKind

COUNT_IN_AND_PAUSE_S = 12.0
BEATS, NOTES = 11.75, 43
LIMIT_MS = 22.0
ONE_STEP = 0.05


def marks_at(tempo_bpm: float, spread_ms: float, slips: int = 0, judged: int = NOTES) -> Marks:
    notes = tuple(
        NoteMark(
            index,
            Pitch.parse("D5"),
            Start.SLURRED,
            index % 4,
            judged=index < judged,
            missed=index < slips,
            off_ms=0.0,
        )
        for index in range(NOTES)
    )
    return Marks(
        "climb",
        RoundKind.CLIMB,
        1,
        Articulation.SLURRED,
        tempo_bpm,
        notes,
        aims=(),
        spread_ms=spread_ms,
    )


@dataclass
class Learner:
    """Plays at the limit with just the spread allowed; beyond it, it comes apart.

    How suddenly differs: the spread grows as a power of the tempo. The limit rises a little with
    every round played below it. Our own model.
    """

    limit_bpm: float
    steepness: float
    gain: float
    says: float
    """How often the player says how it felt."""
    random: np.random.Generator

    @classmethod
    def drawn(cls, seed: int) -> Learner:
        random = np.random.default_rng(seed)
        return cls(
            limit_bpm=random.uniform(56, 135),
            steepness=random.uniform(4, 16),
            gain=random.uniform(0, 0.002),
            says=random.choice([0.0, 0.3, 1.0]),
            random=random,
        )

    def play(self, tempo_bpm: float) -> tuple[Marks, Felt | None]:
        strain = 0.4 + 0.6 * (tempo_bpm / self.limit_bpm) ** self.steepness
        limit_ms = marks_at(tempo_bpm, 0).evenness_limit_ms
        heard = strain * (1 + self.random.normal(0, 0.1))  # a spread of 43 notes: 1/sqrt(2n)
        slip = 0.008 + 0.05 * max(0.0, strain - 0.8)
        slips = int(self.random.binomial(NOTES, min(slip, 0.5)))
        felt = None
        if self.random.random() < self.says:
            felt = self.feels(strain * (1 + self.random.normal(0, 0.15)))
        if strain <= 1:
            self.limit_bpm *= 1 + self.gain
        return marks_at(tempo_bpm, heard * limit_ms, slips), felt

    def feels(self, strain: float) -> Felt:
        if strain < 0.6:
            return Felt.EASY
        return Felt.HARD if strain > 1.0 else Felt.FINE


@dataclass(frozen=True)
class Climb:
    """What one learner's climb came to."""

    final_bpm: float
    limit_bpm: float
    """At the end."""
    goal_bpm: float
    beyond: int
    """Rounds played more than one step beyond the limit of that moment."""
    in_a_row: int
    used_s: float
    minutes: float

    @property
    def secure_bpm(self) -> float:
        return min(self.limit_bpm, self.goal_bpm)

    @property
    def near(self) -> bool:
        """Within one step of the hidden secure tempo; the steps are whole beats a minute."""
        return abs(self.final_bpm - self.secure_bpm) <= max(ONE_STEP * self.secure_bpm, 3.0)


Rule = Callable[[ClimbState, Marks | None, Felt | None, float], ClimbState]


@cache
def climbed(seed: int, rule: Rule = after_round, minutes: float = 10) -> Climb:
    learner, state = Learner.drawn(seed), begin(TempoLadder(60, 120, minutes))
    tempos, beyond = [], []
    while not state.finished:
        tempos.append(state.tempo_bpm)
        beyond.append(state.tempo_bpm > learner.limit_bpm * (1 + ONE_STEP))
        marks, felt = learner.play(state.tempo_bpm)
        state = rule(state, marks, felt, BEATS * 60 / state.tempo_bpm + COUNT_IN_AND_PAUSE_S)
        assert len(tempos) < 100, "the climb must end"
    return Climb(
        state.secure_bpm or state.tempo_bpm,
        learner.limit_bpm,
        120,
        sum(beyond),
        longest_run(beyond),
        state.used_s,
        minutes,
    )


def longest_run(flags: list[bool]) -> int:
    longest = run = 0
    for flag in flags:
        run = run + 1 if flag else 0
        longest = max(longest, run)
    return longest


def fixed_ladder(
    state: ClimbState, marks: Marks | None, felt: Felt | None, round_s: float
) -> ClimbState:
    """Four beats a minute more every round, whatever happens."""
    return stepped(state, round_verdict(marks, felt) is not RoundVerdict.BROKE, 4.0, round_s)


def one_up_one_down(
    state: ClimbState, marks: Marks | None, felt: Felt | None, round_s: float
) -> ClimbState:
    """Four more after a good round, four less after a bad one."""
    good = round_verdict(marks, felt) is not RoundVerdict.BROKE
    return stepped(state, good, 4.0 if good else -4.0, round_s)


def stepped(state: ClimbState, good: bool, step_bpm: float, round_s: float) -> ClimbState:
    at, used_s = state.tempo_bpm, state.used_s + round_s
    return replace(
        state,
        held_bpm=tuple(sorted({*state.held_bpm, at})) if good else state.held_bpm,
        tempo_bpm=min(120.0, at + step_bpm),
        used_s=used_s,
        finished=used_s + round_s > 600 or (at >= 120 and (good or step_bpm > 0)),
    )


def share(flags: list[bool]) -> float:
    return sum(flags) / len(flags)


def test_the_climb_ends_within_one_step_of_the_hidden_tempo() -> None:
    climbs = [climbed(seed) for seed in range(100)]
    assert share([climb.near for climb in climbs]) >= 0.90


def test_nobody_is_pushed_far_beyond_the_hidden_tempo() -> None:
    climbs = [climbed(seed) for seed in range(100)]
    assert max(climb.beyond for climb in climbs) <= 2


def test_the_time_is_kept() -> None:
    for minutes in (3.0, 10.0):
        climbs = [climbed(seed, minutes=minutes) for seed in range(40)]
        assert max(climb.used_s for climb in climbs) <= 60 * minutes


def test_other_rules_push_further_beyond() -> None:
    ours, fixed, updown = (
        [climbed(seed, rule) for seed in range(40)]
        for rule in (after_round, fixed_ladder, one_up_one_down)
    )
    pushed = [share([climb.beyond > 2 for climb in climbs]) for climbs in (ours, fixed, updown)]
    assert pushed[0] == 0
    assert pushed[1] > 0.3
    assert pushed[2] > 0.1


def test_an_able_player_reaches_the_goal() -> None:
    state = begin(TempoLadder(60, 120, 10))
    while not state.finished:
        state = after_round(state, marks_at(state.tempo_bpm, 8), None, 22)
    assert state.secure_bpm == 120
    assert "goal" in state.why


def test_an_easy_round_earns_a_larger_step() -> None:
    start = begin(TempoLadder(60, 120, 10))
    easy = after_round(start, marks_at(60, 8), None, 22)
    well = after_round(start, marks_at(60, 0.75 * marks_at(60, 0).evenness_limit_ms), None, 22)
    assert easy.tempo_bpm > well.tempo_bpm > 60


def test_hard_holds_a_good_round_and_easy_cannot_excuse_a_broken_one() -> None:
    limit_ms = marks_at(60, 0).evenness_limit_ms
    assert round_verdict(marks_at(60, 0.75 * limit_ms), Felt.HARD) is RoundVerdict.JUST
    assert round_verdict(marks_at(60, 2.0 * limit_ms), Felt.EASY) is RoundVerdict.BROKE


def test_a_round_that_comes_apart_is_taken_back() -> None:
    state = after_round(begin(TempoLadder(80, 120, 10)), marks_at(80, 60), None, 22)
    assert state.tempo_bpm < 80
    assert state.secure_bpm is None


def climbed_by(*strains: float, start_bpm: float = 60) -> ClimbState:
    """A climb after rounds of so much unevenness, 1 being what is allowed."""
    state = begin(TempoLadder(start_bpm, 120, 10))
    for strain in strains:
        marks = marks_at(state.tempo_bpm, strain * marks_at(state.tempo_bpm, 0).evenness_limit_ms)
        state = after_round(state, marks, None, 22)
    return state


EASY, WELL, APART, BADLY = 0.4, 0.7, 1.3, 2.0


@pytest.mark.parametrize(("how", "steps"), [(APART, 1), (BADLY, 2)])
def test_a_rise_that_comes_apart_is_taken_straight_back_to_what_held(
    how: float, steps: int
) -> None:
    """By a step at least, and by two where it came apart badly."""
    before = climbed_by(*[WELL] * 6)
    after = climbed_by(*[WELL] * 6, how)
    assert before.secure_bpm is not None
    assert after.tempo_bpm <= min(before.secure_bpm, (1 - 0.04 * steps) * before.tempo_bpm)
    assert after.tempo_bpm > 0.88 * before.tempo_bpm


def test_after_one_that_came_apart_no_step_is_large() -> None:
    """Not even an easy one, and none leaps over a faster tempo that came apart earlier."""
    before, after = climbed_by(EASY), climbed_by(EASY, EASY, APART, *[EASY] * 6)
    assert before.tempo_bpm / 60 > 1.04
    tempos = [climbed_by(EASY, EASY, APART, *[EASY] * n).tempo_bpm for n in range(7)]
    rises = [up / at for at, up in pairwise(tempos)]
    assert max(rises) <= 1.05
    assert after.tempo_bpm > climbed_by(EASY, EASY).tempo_bpm


def test_a_tempo_that_came_apart_badly_must_hold_twice_before_it_is_passed() -> None:
    wall_bpm = climbed_by(EASY, EASY).tempo_bpm
    rounds, state = [EASY, EASY, BADLY], climbed_by(EASY, EASY, BADLY)
    while state.tempo_bpm < wall_bpm:
        rounds.append(WELL)
        state = climbed_by(*rounds)
    once, twice = climbed_by(*rounds, WELL), climbed_by(*rounds, WELL, WELL)
    assert (once.tempo_bpm, once.why) == (wall_bpm, "That held. Once more, to be sure.")
    assert twice.tempo_bpm > wall_bpm


def test_a_tempo_that_came_apart_three_times_is_left_alone_for_today() -> None:
    """A bad round counts twice: one more, and none further is asked for."""
    rounds, state = [EASY, EASY, BADLY], climbed_by(EASY, EASY, BADLY)
    wall_bpm = climbed_by(EASY, EASY).tempo_bpm
    tries = 1
    while not state.finished:
        tries += state.tempo_bpm == wall_bpm
        rounds.append(APART if state.tempo_bpm == wall_bpm else WELL)
        state = climbed_by(*rounds)
    assert tries == 2
    assert "tempo for today" in state.why


def test_notes_in_doubt_are_no_evidence_where_it_came_apart() -> None:
    """Seven silent of 43, three of them left in doubt: below, it holds; there, it is taken back,
    and nothing is called secure."""
    doubting = marks_at(80, 5, slips=6)
    notes = (replace(note, judged=note.index >= 4) for note in doubting.notes)
    doubting = replace(doubting, notes=tuple(notes))
    fresh = begin(TempoLadder(80, 120, 10))
    again = replace(fresh, came_apart_bpm=(80.0,), held_bpm=(74.0,), breaks=1)
    assert after_round(fresh, doubting, None, 22).tempo_bpm > 80
    state = after_round(again, doubting, None, 22)
    assert (state.tempo_bpm, state.secure_bpm) == (74, 74)
    assert state.why == "I wasn't sure of every note: back to 74."
    assert verdict_in(again, doubting, None, Topic.SECURE) is RoundVerdict.UNSURE


def test_what_was_found_hard_is_never_gone_beyond() -> None:
    for spread_ms in (5, 0.75 * marks_at(60, 0).evenness_limit_ms):
        state = after_round(begin(TempoLadder(60, 120, 10)), marks_at(60, spread_ms), Felt.HARD, 22)
        assert state.tempo_bpm == 60
        assert state.why == "You found that hard: 60 once more."


def test_what_must_go_first_goes_where_it_held_before() -> None:
    above = climbed_by(WELL, WELL)
    state = after_round(above, marks_at(above.tempo_bpm, 5), None, 22, Topic.START)
    assert state.tempo_bpm <= above.held_bpm[-1]
    assert state.why == f"Clean first: back to {state.tempo_bpm:.0f}."
    first = begin(TempoLadder(60, 120, 10))
    assert after_round(first, marks_at(60, 5), None, 22, Topic.START).tempo_bpm == 60


def test_one_slip_is_forgiven_however_few_the_notes() -> None:
    """Of eight notes one is 12 %, and says nothing about the tempo."""
    for slips, went in ((1, RoundVerdict.EASY), (2, RoundVerdict.BROKE)):
        marks = marks_at(80, 5, slips=slips)
        assert round_verdict(replace(marks, notes=marks.notes[:8])) is went


@pytest.mark.parametrize("in_turns", [False, True])
@pytest.mark.parametrize("tempo_bpm", [20, 21, 22, 26, 29, 30, 33])
def test_a_slow_climb_that_comes_apart_is_never_sent_up(tempo_bpm: int, in_turns: bool) -> None:
    """As slow as a routine may ask (20) there is nothing slower: it is played once more."""
    start = begin(TempoLadder(tempo_bpm, 60, 10, in_turns))
    state = after_round(start, marks_at(tempo_bpm, 400), None, 22)
    assert 20 <= state.tempo_bpm <= tempo_bpm
    assert (state.tempo_bpm < tempo_bpm) == (tempo_bpm > 20)
    assert ("as slow as it goes" in state.why) == (tempo_bpm == 20)


def test_slips_alone_break_a_tempo_too() -> None:
    assert round_verdict(marks_at(80, 5, slips=6)) is RoundVerdict.BROKE
    assert round_verdict(marks_at(80, 5, slips=1)) is RoundVerdict.EASY


def test_what_was_not_heard_changes_nothing() -> None:
    start = begin(TempoLadder(80, 120, 10))
    state = after_round(start, marks_at(80, 5, judged=10), None, 22)
    assert state.tempo_bpm == 80
    assert state.secure_bpm is None


def test_the_goal_is_called_out_of_reach_when_time_is_short() -> None:
    start = begin(TempoLadder(60, 120, 2))
    state = after_round(start, marks_at(60, 25), None, 25)
    assert 60 < state.reachable_bpm < 120


def test_tomorrow_starts_a_little_under_what_was_secure() -> None:
    state = begin(TempoLadder(60, 120, 10))
    while not state.finished:
        state = after_round(state, marks_at(state.tempo_bpm, 8), None, 22)
    assert "tomorrow starts a little lower" in state.closing
    assert 90 < begin(state.ladder, state.secure_bpm).tempo_bpm < state.secure_bpm


def test_no_lower_start_is_promised_where_the_next_climb_cannot_begin_lower() -> None:
    state = replace(begin(TempoLadder(66, 120, 10)), held_bpm=(66.0,))
    assert state.closing == "66 held today."
    assert begin(state.ladder, state.secure_bpm).tempo_bpm == 66


def test_where_nobody_listened_the_players_word_decides_and_nothing_is_secure() -> None:
    start = begin(TempoLadder(60, 120, 10))
    silent = after_round(start, None, None, 22)
    assert silent.tempo_bpm > 60
    assert silent.secure_bpm is None
    assert after_round(start, None, Felt.HARD, 22).tempo_bpm < 60
    assert after_round(start, None, Felt.FINE, 22).secure_bpm == 60


@given(
    strains=st.lists(st.floats(0.1, 3.0), min_size=5, max_size=60),
    felt=st.sampled_from([None, *Felt]),
    start=st.integers(20, 110),
)
@settings(max_examples=60)
def test_whatever_happens_the_tempo_stays_within_bounds(
    strains: list[float], felt: Felt | None, start: int
) -> None:
    """A tempo is a whole number of beats a minute; one that came apart is never repeated."""
    state = begin(TempoLadder(float(start), 120, 10))
    for strain in strains:
        if state.finished:
            break
        before = state
        marks = marks_at(state.tempo_bpm, 0)
        marks = replace(marks, spread_ms=strain * marks.evenness_limit_ms)
        state = after_round(state, marks, felt, 20)
        assert 20 <= state.tempo_bpm <= 120
        assert state.tempo_bpm == int(state.tempo_bpm)
        assert state.secure_bpm is None or state.secure_bpm <= 120
        assert state.used_s == before.used_s + 20
        if round_verdict(marks, felt) is RoundVerdict.BROKE and state.tempo_bpm > 20:
            assert state.tempo_bpm < before.tempo_bpm
