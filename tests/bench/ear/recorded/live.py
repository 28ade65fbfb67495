"""What was shown while playing against what is said afterwards, note by note.

An expected note was shown where the quick answer stood on it at any time between the onset that is
said of it afterwards and its end, not shown where it never did; shown in vain where the answer
moved on to a note that is called missed afterwards. Its cents are the median of those shown.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.bench.ear.recorded.heard_by import Followed, followed
from tests.bench.ear.recorded.lines import FIRST_S, played
from tests.bench.ear.recorded.notes import quick_bank
from tests.bench.ear.recorded.plan import Plan
from tests.bench.ear.recorded.rooms import place
from tests.bench.ear.recorded.scores import line_of

FAR_CENTS = 15.0
"""Further apart two figures of one note are two figures to a student: our own estimate."""


def live(plan: Plan) -> Iterator[dict]:
    """A record for each detached line and room."""
    notes = quick_bank(plan.part)
    for number in range(plan.takes(12, 4)):
        score = line_of(plan.part, plan.seed + number, notes)
        dice = np.random.default_rng([plan.seed, number, 8])
        line = played(score.strokes(dice), notes, dice)
        for room in plan.rooms:
            where = place(room, plan.seed + number)
            yield plan.tags(where) | shown_against_said(
                followed(where.heard(line.samples), score.asked, FIRST_S)
            )


def shown_against_said(both: Followed) -> dict:
    """The notes of one take, and how many of them disagree in each way."""
    said = [note for note in both.said if note.index is not None]
    sounding = [note for note in said if note.onset_s is not None]
    shown = [
        [r for r in both.shown if r.index == note.index and note.onset_s <= r.time_s <= note.end_s]
        for note in sounding
    ]
    apart = [
        abs(float(np.median([r.cents for r in some])) - note.cents)
        for note, some in zip(sounding, shown, strict=True)
        if some and note.cents is not None
    ]
    missed = {note.index for note in said if note.onset_s is None}
    return {
        "notes": len(said),
        "not shown": sum(not some for some in shown),
        "shown in vain": len(missed & {r.index for r in both.shown}),
        "missed": len(missed),
        "cents apart": sum(one > FAR_CENTS for one in apart),
    }
