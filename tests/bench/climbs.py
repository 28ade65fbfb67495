"""The speed climb on simulated learners with a hidden limit, beside two plain rules.

    python -m tests.bench.climbs [--write]

100 learners of each kind, with seeds no threshold was worked out on: one kind whose notes spread as
its limit nears (tests/coach/test_ladder.py), and one that stays even and loses notes instead: one
after another, at its own hard places, holding the note before over, or leaving holes anywhere.
Learning rate, steepness, and whether they say how it felt differ from learner to learner. What the
coach says of lost notes stands in the way of the climb, as in a session.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tests.bench.results import write_section
from tests.coach.test_ladder import (
    BEATS,
    COUNT_IN_AND_PAUSE_S,
    NOTES,
    ONE_STEP,
    Climb,
    Learner,
    Rule,
    fixed_ladder,
    longest_run,
    marks_at,
    one_up_one_down,
)
from trainer.coach.advice import Felt, Topic
from trainer.coach.climb import after_round, begin
from trainer.coach.ladder import ClimbState, TempoLadder
from trainer.coach.lone_misses import without_lone_misses
from trainer.coach.marks import Marks
from trainer.coach.observations.wrong_notes import in_notes

SEEDS = range(50_000, 50_100)
FROM_BPM, TO_BPM, MINUTES = 60, 120, 10
ALLOWED = 0.07
"""Share of trouble at which a tempo is at its limit, as thresholds.CLIMB_CLEAN has it."""


@dataclass
class Slipping(Learner):
    """Even at every tempo; beyond the limit more and more notes are lost. Our own model."""

    def play(self, tempo_bpm: float) -> tuple[Marks, Felt | None]:
        over = self.steepness * (tempo_bpm / self.limit_bpm - 1)
        share = 2 * ALLOWED / (1 + np.exp(-3 * over))
        share = min(0.6, share + max(0.0, 0.35 * over))
        slips = int(self.random.binomial(NOTES, share))
        limit_ms = marks_at(tempo_bpm, 0).evenness_limit_ms
        felt = None
        if self.random.random() < self.says:
            felt = self.feels(share / ALLOWED * (1 + self.random.normal(0, 0.15)))
        if tempo_bpm <= self.limit_bpm:
            self.limit_bpm *= 1 + self.gain
        return marks_at(tempo_bpm, 0.5 * limit_ms, slips), felt


Placing = Callable[[Marks, np.random.Generator, int], Marks]
"""Where a learner's lost notes lie, and what is heard around them; the number is the learner's."""
HARD_PLACES = 8


def in_a_run(marks: Marks, random: np.random.Generator, learner: int) -> Marks:
    """One after another: a stumble."""
    del random, learner
    return marks


def at_hard_places(marks: Marks, random: np.random.Generator, learner: int) -> Marks:
    """At some of the learner's own few hard places, and elsewhere where those don't suffice."""
    order = np.random.default_rng([learner, 31]).permutation(np.arange(1, NOTES - 1))
    hard, others = random.permutation(order[:HARD_PLACES]), random.permutation(order[HARD_PLACES:])
    return _lost_at([*hard, *others][: lost(marks)], marks)


def held_over(marks: Marks, random: np.random.Generator, learner: int) -> Marks:
    """Anywhere; the note before each lasts on."""
    del learner
    places = list(random.permutation(np.arange(1, NOTES - 1)))[: lost(marks)]
    notes = [
        replace(note, seconds=0.2 if index + 1 in places else 0.1)
        for index, note in enumerate(_lost_at(places, marks).notes)
    ]
    return replace(marks, notes=tuple(notes))


def holes(marks: Marks, random: np.random.Generator, learner: int) -> Marks:
    """Anywhere, a hole each, in a line that goes on: just what an ear's fault looks like."""
    del learner
    return _lost_at(list(random.permutation(np.arange(1, NOTES - 1)))[: lost(marks)], marks)


def lost(marks: Marks) -> int:
    """How many notes the learner lost."""
    return sum(note.missed for note in marks.notes)


def _lost_at(places: Sequence[int], marks: Marks) -> Marks:
    notes = (replace(note, missed=note.index in places) for note in marks.notes)
    return replace(marks, notes=tuple(notes))


LOST = 0.05
"""Share of notes that an erring ear loses."""


def not_judged(marks: Marks, random: np.random.Generator) -> Marks:
    """An ear that judges no start, and leaves one note in twenty unjudged."""
    notes = (
        replace(note, heard_start=None, judged=note.judged and random.random() >= LOST)
        for note in marks.notes
    )
    return replace(marks, notes=tuple(notes))


def called_missing(marks: Marks, random: np.random.Generator) -> Marks:
    """The worse one: it says that one note in twenty was not played."""
    notes = (
        replace(note, heard_start=None, missed=note.missed or random.random() < LOST)
        for note in marks.notes
    )
    return replace(marks, notes=tuple(notes))


def as_played(marks: Marks, random: np.random.Generator) -> Marks:
    """An ear without a fault."""
    del random
    return marks


Ear = Callable[[Marks, np.random.Generator], Marks]
EARS: dict[str, Ear] = {
    "": as_played,
    ", starts and 5 % of notes not judged": not_judged,
    ", 5 % of notes called missing": called_missing,
}

Climber = Callable[[ClimbState, Marks | None, Felt | None, float, Topic], ClimbState]


def _whatever_is_said(rule: Rule) -> Climber:
    """A plain rule, which doesn't mind what the coach says."""
    return lambda state, marks, felt, round_s, _topic: rule(state, marks, felt, round_s)


RULES: dict[str, Climber] = {
    "this climb": after_round,
    "fixed ladder, +4 a round": _whatever_is_said(fixed_ladder),
    "one up, one down, ±4": _whatever_is_said(one_up_one_down),
}
LEARNERS: dict[str, tuple[Callable[[int], Learner], Placing]] = {
    "spreading": (Learner.drawn, holes),
    "slipping, stumbling": (Slipping.drawn, in_a_run),
    "slipping at hard places": (Slipping.drawn, at_hard_places),
    "slipping, held over": (Slipping.drawn, held_over),
    "slipping, holes": (Slipping.drawn, holes),
}


def climb(seed: int, kind: str, rule: Climber, ear: Ear = as_played) -> Climb:
    """One learner's ten minutes under a rule, heard by an ear."""
    drawn, placing = LEARNERS[kind]
    learner = drawn(seed)
    errs, places = (np.random.default_rng([seed, number]) for number in (29, 30))
    state = begin(TempoLadder(FROM_BPM, TO_BPM, MINUTES))
    beyond: list[bool] = []
    heard: list[Marks] = []
    while not state.finished and len(beyond) < 200:
        beyond.append(state.tempo_bpm > learner.limit_bpm * (1 + ONE_STEP))
        played, felt = learner.play(state.tempo_bpm)
        heard.append(ear(placing(played, places, seed), errs))
        *earlier, marks = without_lone_misses(heard)
        said = next((seen.topic for seen in in_notes(marks, earlier)), Topic.SECURE)
        round_s = BEATS * 60 / state.tempo_bpm + COUNT_IN_AND_PAUSE_S
        state = rule(state, marks, felt, round_s, said)
    return Climb(
        state.secure_bpm or state.tempo_bpm,
        learner.limit_bpm,
        TO_BPM,
        sum(beyond),
        longest_run(beyond),
        state.used_s,
        MINUTES,
    )


def rows() -> Iterator[str]:
    """One row for each rule and kind of learner."""
    yield (
        "| rule | learners | final within one step of the hidden tempo "
        "| pushed more than two rounds beyond it | most rounds beyond | time used, longest |"
    )
    yield "|---|---|---:|---:|---:|---:|"
    tried = [(name, rule, "", as_played) for name, rule in RULES.items()]
    tried[1:1] = [("this climb", after_round, name, ear) for name, ear in EARS.items() if name]
    for rule_name, rule, ear_name, ear in tried:
        for kind in LEARNERS:
            climbs = [climb(seed, kind, rule, ear) for seed in SEEDS]
            near = sum(one.near for one in climbs)
            pushed = sum(one.beyond > 2 for one in climbs)
            most = max(one.beyond for one in climbs)
            longest = max(one.used_s for one in climbs) / 60
            yield (
                f"| {rule_name}{ear_name} | {len(climbs)} {kind} "
                f"| {near} ({100 * near / len(climbs):.0f} %) | {pushed} "
                f"| {most} | {longest:.1f} of {MINUTES} min |"
            )
    yield "| asked | | ≥ 90 % | 0 | 2 | within |"


def main() -> None:
    """The table, printed, and written down where asked."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--write", action="store_true", help="write into RESULTS.md")
    options = parser.parse_args()
    head = (
        f"`python -m tests.bench.climbs`: seeds {SEEDS.start} to {SEEDS.stop - 1}, from {FROM_BPM} "
        f"towards {TO_BPM} in {MINUTES} minutes, hidden limits 56 to 135 and rising by up to 0.2 % "
        "a round. 'Beyond' is more than 5 % over the limit of that moment.\n"
    )
    section = head + "\n" + "\n".join(rows())
    print(section)
    if options.write:
        write_section("Speed climb", section)


if __name__ == "__main__":
    main()
