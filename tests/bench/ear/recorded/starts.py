"""How notes begin: detached lines, repeated notes, every articulation against every other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np

from tests.bench.ear.recorded.count import count_in_time, count_told
from tests.bench.ear.recorded.heard_by import RATE, Asked, heard_told, heard_untold
from tests.bench.ear.recorded.lines import TrueNote, played
from tests.bench.ear.recorded.notes import Bank, alternating_bank, bank, quick_bank
from tests.bench.ear.recorded.plan import Plan
from tests.bench.ear.recorded.rooms import place
from tests.bench.ear.recorded.scores import PATTERNS, Score, line_of
from tests.bench.ear.recorded.slurs import RealSlurs, real_slurs

PER_SECOND = (4.0, 5.3, 6.7, 8.0)
REPEATS = 16


def lines(plan: Plan) -> Iterator[dict]:
    """A record for each detached line and room, asked as it is played."""
    notes = plan.quick_notes
    for number in range(plan.takes(24, 6)):
        score = line_of(plan.part, plan.seed + number, notes)
        dice = np.random.default_rng([plan.seed, number, 1])
        line = played(score.strokes(dice), notes, dice)
        for room in plan.rooms:
            where = place(room, plan.seed + number)
            sound = where.heard(line.samples)
            yield plan.tags(where) | {
                "count": count_told(line.notes, heard_told(sound, score.asked))
            }


def repeated(plan: Plan) -> Iterator[dict]:
    """A record for each repeated note, speed and room: told how many, and told nothing."""
    notes = alternating_bank(plan.part)
    pitches = plan.some(list(notes)[::2], per=2)
    for number, midi in enumerate(pitches):
        for turn, per_second in enumerate(PER_SECOND):
            bpm = round(60 * per_second / 4)
            score = Score((midi,) * REPEATS, Fraction(1, 4), bpm, (False,) * REPEATS, double=True)
            dice = np.random.default_rng([plan.seed, number, turn, 2])
            line = played(score.strokes(dice), notes, dice)
            for room in plan.rooms:
                where = place(room, plan.seed + number + turn)
                sound = where.heard(line.samples)
                yield plan.tags(where) | {
                    "per second": per_second,
                    "count": count_in_time(line.notes, heard_told(sound, score.asked)),
                    "untold": count_in_time(line.notes, heard_untold(sound)),
                }


def pairs(plan: Plan) -> Iterator[dict]:
    """A record for each pair of what is asked and what is played, and room."""
    notes = bank(plan.part)
    quick = quick_bank(plan.part)
    long = {
        midi: tuple(n for n in quick[midi] if n.length != "025")
        or tuple(n for n in notes[midi] if n.length != "025")
        for midi in notes
    }
    number = 0
    for _ in range(plan.takes(2, 1)):
        for asked in PATTERNS:
            for was_played in PATTERNS:
                number += 1
                yield from _pair(plan, number, asked, was_played, long)


def _pair(plan: Plan, number: int, asked: str, was_played: str, notes: Bank) -> Iterator[dict]:
    score = line_of(plan.part, plan.seed + number, notes, bpm=(60, 96))
    dice = np.random.default_rng([plan.seed, number, 3])
    line = played(score.with_pattern(PATTERNS[was_played]).strokes(dice), notes, dice)
    on_stand = score.with_pattern(PATTERNS[asked]).asked
    rooms = (plan.rooms[(number + number // 8) % 2],) if plan.quick else plan.rooms
    for room in rooms:
        where = place(room, plan.seed + number)
        heard = heard_told(where.heard(line.samples), on_stand)
        yield plan.tags(where) | {
            "asked": asked,
            "played": was_played,
            "as asked": asked == was_played,
            "count": count_told(line.notes, heard),
        }


def real(plan: Plan) -> Iterator[dict]:
    """A record for each recorded slurred line, what was asked, and room.

    The truth is made of changes of pitch: the repeated notes of a phrase are not in it, so extras
    are not counted.
    """
    for number, one in enumerate(real_slurs(plan.part)):
        true = tuple(
            TrueNote(midi, onset_s, onset_s, index > 0, 0.0)
            for index, (midi, onset_s) in enumerate(zip(one.midis, one.onsets_s, strict=True))
        )
        for room in plan.rooms:
            where = place(room, plan.seed + number)
            sound = where.heard(np.pad(one.samples, (0, round(0.3 * RATE))))
            for slurred in (True, False):
                heard = heard_told(sound, _asked(one, slurred))
                yield plan.tags(where) | {
                    "played": one.kind,
                    "asked": "all slurred" if slurred else "all tongued",
                    "as asked": slurred,
                    "count": replace(count_in_time(true, heard), extras=0),
                }


def _asked(one: RealSlurs, slurred: bool) -> Asked:
    """The line in its own time, as if written at 60: a beat is a second."""
    beats = tuple(Fraction(round(100 * (at_s - one.onsets_s[0])), 100) for at_s in one.onsets_s)
    starts = (False, *(slurred,) * (len(one.midis) - 1))
    shortest = min(after - before for before, after in pairwise(beats))
    return Asked(one.midis, beats, shortest, starts, 60.0)
