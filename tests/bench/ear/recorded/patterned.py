"""Patterns of slurs and strokes, and triple tonguing, played with recorded notes in rooms."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import numpy as np

from tests.bench.ear.recorded.count import count_in_time, count_told
from tests.bench.ear.recorded.heard_by import heard_told
from tests.bench.ear.recorded.lines import played
from tests.bench.ear.recorded.notes import alternating_bank, bank
from tests.bench.ear.recorded.plan import Plan
from tests.bench.ear.recorded.rooms import place
from tests.bench.ear.recorded.scores import Score, line_of
from trainer.music.articulations import FOURS, THREES, ArticulationPattern
from trainer.music.note import Start

TIMES_EACH = 3
"""Strokes to a note in triple tonguing."""
TRIPLE = "triple tongue, three to a note"


def patterns(plan: Plan) -> Iterator[dict]:
    """A record for each pattern a student may be asked for, and room: played as it is asked."""
    notes = {midi: tuple(one for one in some if one.length != "025")
             for midi, some in bank(plan.part).items()}  # fmt: skip
    asked = [(one, Fraction(1, 4)) for one in FOURS] + [(one, Fraction(1, 3)) for one in THREES]
    number = 0
    for _ in range(plan.takes(3, 1)):
        for pattern, step in asked:
            number += 1
            score = replace(line_of(plan.part, plan.seed + number, notes, bpm=(60, 96)), step=step)
            score = replace(score.with_pattern(_slurred(pattern)), double=False)
            dice = np.random.default_rng([plan.seed, number, 7])
            line = played(score.strokes(dice), notes, dice)
            for room in plan.rooms:
                where = place(room, plan.seed + number)
                heard = heard_told(where.heard(line.samples), score.asked)
                yield plan.tags(where) | {
                    "asked": str(pattern),
                    "count": count_told(line.notes, heard),
                }
    yield from _triple(plan)


def _slurred(pattern: ArticulationPattern) -> tuple[bool, ...]:
    return tuple(start is Start.SLURRED for start, _ in pattern.places)


def _triple(plan: Plan) -> Iterator[dict]:
    """Each pitch three times, in triplets; the back strokes are recorded notes like the others."""
    notes = alternating_bank(plan.part)
    for number in range(plan.takes(8, 3)):
        dice = np.random.default_rng([plan.seed, number, 8])
        pitches = dice.permutation(list(notes))[:8]
        midis = tuple(int(midi) for midi in pitches for _ in range(TIMES_EACH))
        score = Score(midis, Fraction(1, 3), round(dice.uniform(66, 100)), (False,) * len(midis))
        line = played(score.strokes(dice), notes, dice)
        for room in plan.rooms:
            where = place(room, plan.seed + number)
            heard = heard_told(where.heard(line.samples), score.asked)
            yield plan.tags(where) | {"asked": TRIPLE, "count": count_in_time(line.notes, heard)}
