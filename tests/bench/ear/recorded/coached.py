"""What the coach says first of lines of recorded notes: one planted fault, none, or slow notes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count

import numpy as np

from tests.bench.ear.recorded.heard_by import IN_PEACE, WITHHELD, Heard, said_of
from tests.bench.ear.recorded.lines import Stroke, TrueNote, played
from tests.bench.ear.recorded.notes import QUICK_S, SLOW_S, Bank, Part, bank, by_pitch
from tests.bench.ear.recorded.plan import Plan
from tests.bench.ear.recorded.rooms import Place, Room, place
from tests.bench.ear.recorded.scores import PATTERNS, Score, line_of

SLOW_TO_SPEAK = "a note slow to speak"
PLACES_S = 0.03
"""A stroke or a speaking this near to the true one is that one."""
LOW_BELOW, HIGH_FROM = 72, 86
"""Where the low notes end and the high ones begin, as MIDI numbers: C5 and D6."""

SLOWEST_S = 0.12
"""What takes longer swells, or is two sounds."""
BREAKS_CENTS = 25.0
"""A note that begins so far off its later pitch begins as another."""

Strokes = list[Stroke]
Fault = Callable[[Strokes, Score, np.random.Generator], Strokes]


@dataclass(frozen=True)
class Planted:
    """One fault, and what may be said of it."""

    topics: frozenset[str]
    fault: Fault
    asked: str = "all tongued"
    was_played: str = "all tongued"
    double: bool | None = None
    """None: single or double in turn."""
    pitches: int = 0
    """It must touch so many, and at most half of the notes: a line without them has no such fault,
    one that is nearly all of them another, and another is drawn."""
    in_level: bool = False
    """It lies in the level, which a gain that rides takes away again: not played into one."""


def _flat_low(strokes: Strokes, _: Score, dice: np.random.Generator) -> Strokes:
    cents = float(dice.uniform(20, 30))
    return [replace(s, cents=s.cents - cents) if s.midi < LOW_BELOW else s for s in strokes]


def _sharp_top(strokes: Strokes, _: Score, dice: np.random.Generator) -> Strokes:
    cents = float(dice.uniform(20, 30))
    return [replace(s, cents=s.cents + cents) if s.midi >= HIGH_FROM else s for s in strokes]


def _all_sharp(strokes: Strokes, _: Score, dice: np.random.Generator) -> Strokes:
    cents = float(dice.uniform(18, 26) * dice.choice([-1, 1]))
    return [replace(s, cents=s.cents + cents) for s in strokes]


def _late_note(strokes: Strokes, _: Score, dice: np.random.Generator) -> Strokes:
    """One pitch inside the line, every time it comes."""
    late = _comes_twice(strokes, dice)
    by_s = float(dice.uniform(0.055, 0.08))
    return _moved(strokes, [by_s if s.midi == late else 0.0 for s in strokes])


def _uneven(strokes: Strokes, score: Score, dice: np.random.Generator) -> Strokes:
    """The same place of every beat late."""
    of_beat = round(1 / score.step)
    late = int(dice.integers(1, of_beat))
    by_s = float(dice.uniform(0.03, 0.045))
    return _moved(strokes, [by_s if i % of_beat == late else 0.0 for i in range(len(strokes))])


def _hurried(share: float) -> Fault:
    def fault(strokes: Strokes, _: Score, dice: np.random.Generator) -> Strokes:
        end_share = share * float(dice.uniform(0.8, 1.3))
        first, whole = strokes[0].at_s, strokes[-1].end_s - strokes[0].at_s

        def at(time_s: float) -> float:
            done = (time_s - first) / whole
            return first + whole * (done - end_share * done**2 / 2)

        return [replace(s, at_s=at(s.at_s), end_s=at(s.end_s)) for s in strokes]

    return fault


def _missed(strokes: Strokes, _: Score, dice: np.random.Generator) -> Strokes:
    """Four notes left out, no two side by side."""
    inner = np.arange(2, len(strokes) - 2, 2)
    gone = set(dice.choice(inner, 4, replace=False).tolist())
    return [s for index, s in enumerate(strokes) if index not in gone]


def _wrong(strokes: Strokes, _: Score, dice: np.random.Generator) -> Strokes:
    """One pitch played a half to a whole step off, every time, the recorded note retuned."""
    wrong = _comes_twice(strokes, dice)
    off = int(dice.choice([-2, -1, 1, 2]))
    return [replace(s, cents=s.cents + 100.0 * off) if s.midi == wrong else s for s in strokes]


def _comes_twice(strokes: Strokes, dice: np.random.Generator) -> int:
    inside = [s.midi for s in strokes[1:-1]]
    often = [midi for midi in sorted(set(inside)) if inside.count(midi) > 1]
    return often[int(dice.integers(len(often)))]


def _fading(strokes: Strokes, _: Score, dice: np.random.Generator) -> Strokes:
    db = float(dice.uniform(11, 15))
    last = len(strokes) - 1
    return [replace(s, level_db=s.level_db - db * i / last) for i, s in enumerate(strokes)]


def _weak_back(strokes: Strokes, _: Score, dice: np.random.Generator) -> Strokes:
    db = float(dice.uniform(4.5, 7))
    return [replace(s, level_db=s.level_db - db * (i % 2)) for i, s in enumerate(strokes)]


def _as_it_is(strokes: Strokes, _: Score, __: np.random.Generator) -> Strokes:
    return strokes


def _moved(strokes: Strokes, later_s: Sequence[float]) -> Strokes:
    """Notes begun later, the notes before them held on until then."""
    held_s = [*later_s[1:], 0.0]
    return [
        replace(s, at_s=s.at_s + by_s, end_s=s.end_s + on_s)
        for s, by_s, on_s in zip(strokes, later_s, held_s, strict=True)
    ]


FAULTS: dict[str, Planted] = {
    "flat low notes": Planted(frozenset({"tuning of the low notes"}), _flat_low, pitches=2),
    "sharp top": Planted(frozenset({"tuning of the high notes"}), _sharp_top, pitches=2),
    "all sharp or flat": Planted(frozenset({"tuning"}), _all_sharp),
    "one late note": Planted(
        frozenset({"a note that speaks late", "crossing between two notes"}), _late_note
    ),
    "uneven groups": Planted(frozenset({"evenness", "back syllable"}), _uneven),
    "rushing": Planted(frozenset({"rushing"}), _hurried(0.11)),
    "dragging": Planted(frozenset({"dragging"}), _hurried(-0.11)),
    "notes left out": Planted(frozenset({"notes", "where the breath comes"}), _missed),
    "one wrong note": Planted(frozenset({"notes"}), _wrong),
    "fading": Planted(frozenset({"the sound fading towards the end"}), _fading, in_level=True),
    "weak back strokes": Planted(
        frozenset({"back syllable"}), _weak_back, double=True, in_level=True
    ),
    "slurred, not tongued": Planted(
        frozenset({"how notes start"}), _as_it_is, was_played="all slurred"
    ),
    "tongued, not slurred": Planted(frozenset({"how notes start"}), _as_it_is, asked="all slurred"),
}
CLEAN = {
    "clean, tongued": Planted(IN_PEACE, _as_it_is),
    "clean, slurred": Planted(IN_PEACE, _as_it_is, "all slurred", "all slurred"),
}


def coach(plan: Plan) -> Iterator[dict]:
    """A record for each fault, or none, and room; chords up and down, no walks."""
    takes = [(name, FAULTS[name]) for name in FAULTS for _ in range(plan.takes(4, 1))]
    takes += [("clean, tongued", CLEAN["clean, tongued"])] * plan.takes(16, 3)
    takes += [("clean, slurred", CLEAN["clean, slurred"])] * plan.takes(6, 1)
    for number, (name, planted) in enumerate(takes):
        yield from _coached(plan, number, name, planted)


def clean(plan: Plan) -> Iterator[dict]:
    """A record for each clean tongued line and room: enough of them to see one in thirty."""
    for number in range(plan.takes(30, 10)):
        yield from _coached(plan, number, "clean, tongued", CLEAN["clean, tongued"])


def _coached(plan: Plan, number: int, name: str, planted: Planted) -> Iterator[dict]:
    """One line in each of the rooms, and what was said of it."""
    score, strokes, dice = _drawn(plan, number, planted)
    line = played(strokes, _lasting(plan, planted), dice)
    asked = score.with_pattern(PATTERNS[planted.asked]).asked
    for room in plan.rooms:
        where = _place(room, plan.seed + number, planted)
        said = said_of(where.heard(line.samples), asked)
        in_peace = name in CLEAN
        yield plan.tags(where) | {
            "planted": name,
            "number": number,
            "clean": in_peace,
            "right": said.topic in (planted.topics | WITHHELD if in_peace else planted.topics),
            "withheld": said.topic in WITHHELD,
            "topic": said.topic,
            "sentence": said.sentence,
        }


def _drawn(plan: Plan, number: int, planted: Planted) -> tuple[Score, Strokes, np.random.Generator]:
    """A line that has the notes for the fault, and the fault in it."""
    for again in count():
        dice = np.random.default_rng([plan.seed, number, 4, *([again] if again else [])])
        line = plan.seed + number + number // 2 + 100 * again
        score = line_of(plan.part, line, plan.quick_notes, bpm=(60, 90))
        if planted.double is not None:
            score = replace(score, double=planted.double)
        strokes = score.with_pattern(PATTERNS[planted.was_played]).strokes(dice)
        faulty = planted.fault(strokes, score, dice)
        pairs = zip(strokes, faulty, strict=False)
        touched = [before.midi for before, after in pairs if before != after]
        few = planted.pitches and 2 * len(touched) > len(strokes)
        if len(set(touched)) >= planted.pitches and not few:
            return score, faulty, dice
    raise AssertionError


def _place(room: Room, number: int, planted: Planted) -> Place:
    places = (place(room, number + 1000 * again) for again in count())
    return next(w for w in places if not (planted.in_level and w.microphone == "riding"))


def _lasting(plan: Plan, planted: Planted) -> Bank:
    """The quick notes; where slurs are played, those long enough for one."""
    notes = plan.quick_notes
    if planted.was_played == "all tongued":
        return notes
    return {
        midi: tuple(n for n in notes[midi] if n.length != "025")
        or tuple(n for n in everything if n.length != "025")
        for midi, everything in bank(plan.part, player=plan.player).items()
    }


# Slow to speak -----------------------------------------------------------------------------------

UNEVEN = frozenset(
    {
        "evenness",
        "back syllable",
        "a note that speaks late",
        "crossing between two notes",
        "rushing",
        "dragging",
        "where the breath comes",
        "notes",
    }
)


def slow(plan: Plan) -> Iterator[dict]:
    """A record for each even line in which some of the pitches are slow to speak, and room; the
    strokes lie in time, or the places where the notes speak. Any pitch: few of them are slow."""
    notes = _some_slow()
    for number in range(plan.takes(10, 2)):
        score = line_of(Part.ALL, plan.seed + number, notes, bpm=(60, 75))
        for on_stroke in (True, False):
            dice = np.random.default_rng([plan.seed, number, 5])
            strokes = [replace(s, on_stroke=on_stroke) for s in score.strokes(dice)]
            line = played(strokes, notes, dice)
            slow_ones = {i for i, note in enumerate(line.notes) if note.slow_s >= SLOW_S}
            for room in plan.rooms:
                where = place(room, plan.seed + number)
                sound = where.heard(line.samples)
                said = said_of(sound, score.asked)
                heard = {n.index: n for n in said.heard if n.index in slow_ones}
                yield plan.tags(where) | {
                    "in time": "strokes" if on_stroke else "speaking",
                    "called uneven": said.topic in UNEVEN,
                    "named slow": said.topic == SLOW_TO_SPEAK,
                    "topic": said.topic,
                    "slow notes": len(slow_ones),
                    "both places": sum(_both_places(line.notes[i], n) for i, n in heard.items()),
                    "nearer the stroke": sum(
                        _nearer_the_stroke(line.notes[i], n) for i, n in heard.items()
                    ),
                }


def _both_places(true: TrueNote, heard: Heard) -> bool:
    """Whether the onset is the stroke, and the place where the note speaks is given as well."""
    if heard.onset_s is None or heard.speaks_s is None:
        return False
    stroke, speaks = heard.onset_s - true.stroke_s, heard.speaks_s - true.speaks_s
    return max(abs(stroke), abs(speaks)) <= PLACES_S


def _nearer_the_stroke(true: TrueNote, heard: Heard) -> bool:
    return heard.onset_s is not None and heard.onset_s < (true.stroke_s + true.speaks_s) / 2


def _some_slow() -> Bank:
    """Slow notes where a pitch has any, quick ones elsewhere."""
    chosen = []
    for notes in bank(Part.ALL).values():
        slow_ones = [
            n
            for n in notes
            if SLOW_S <= n.slow_s <= SLOWEST_S and abs(n.cents - n.held_cents) < BREAKS_CENTS
        ]
        chosen += slow_ones or [n for n in notes if n.slow_s <= QUICK_S] or list(notes)
    return by_pitch(chosen)
