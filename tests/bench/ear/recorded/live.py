"""What was shown while playing against what is said afterwards, note by note.

An expected note was shown where the quick answer stood on it at any time between the onset that is
said of it afterwards and its end, not shown where it never did; shown in vain where the answer
moved on to a note that is called missed afterwards. Its cents are the median of those shown. Each
line is played a second time with every seventh note left out: silent in its place or, in every
second line, the note before it held on.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from tests.bench.ear.recorded.heard_by import Followed, followed
from tests.bench.ear.recorded.lines import FIRST_S, Stroke, played
from tests.bench.ear.recorded.notes import quick_bank
from tests.bench.ear.recorded.plan import Plan
from tests.bench.ear.recorded.rooms import place
from tests.bench.ear.recorded.scores import line_of

PERIOD, LEFT_OUT = 7, 4
"""Of so many notes that one is left out."""
FAR_CENTS = 15.0
"""Further apart two figures of one note are two figures to a student: our own estimate."""


def live(plan: Plan) -> Iterator[dict]:
    """A record for each detached line, whole and with notes left out, and room."""
    notes = quick_bank(plan.part)
    for number in range(plan.takes(12, 4)):
        score = line_of(plan.part, plan.seed + number, notes)
        dice = np.random.default_rng([plan.seed, number, 8])
        strokes = score.strokes(dice)
        gaps = _left_out(strokes, held_on=number % 2 == 1)
        for of, some in (("whole lines", strokes), ("notes left out", gaps)):
            line = played(some, notes, dice)
            for room in plan.rooms:
                where = place(room, plan.seed + number)
                both = followed(where.heard(line.samples), score.asked, FIRST_S)
                yield plan.tags(where) | {"of": of} | shown_against_said(both)


def _left_out(strokes: Sequence[Stroke], *, held_on: bool) -> list[Stroke]:
    """The strokes without some, but none between two of one pitch: which of these is missing
    nobody can tell."""
    kept: list[Stroke] = []
    for at, stroke in enumerate(strokes):
        around = {one.midi for one in (*strokes[at - 1 : at], *strokes[at + 1 :][:1])}
        if at % PERIOD != LEFT_OUT or len(around) < 2:
            kept.append(stroke)
        elif held_on:
            kept[-1] = replace(kept[-1], end_s=stroke.end_s)
    return kept


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
