"""Recorded notes put together into lines whose every beginning is known.

Struck notes keep their own attack and lie so that they speak at the place written down; they end
early where the recorded note dies away. Slurred
ones are sustained parts of recorded notes of one dynamic, joined as real slurs were measured to go
(`slurs.py`).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.bench.ear.recorded.heard_by import RATE, Sound
from tests.bench.ear.recorded.notes import Bank, RecordedNote
from tests.bench.ear.recorded.slurs import dipped, drawn_slur, joined

FIRST_S = 0.8
"""In one file a rumble begins 0.73 s before the note speaks."""
TAIL_S = 0.7
RELEASE_S = 0.018
SHORTEST_S = 0.05
LEVEL = 0.08
SUSTAINED_FROM_S = 0.1
"""After a note speaks."""
LEVELLED_S = 0.1
"""After it speaks, as long as the shortest recorded note lasts: how loud a note is goes by this, so
that an even line sounds even whatever its files hold before their notes and after them."""


@dataclass(frozen=True)
class Stroke:
    """One note to be played."""

    midi: int
    at_s: float
    end_s: float
    """Under a slur the next note's `at_s`."""
    slurred: bool = False
    cents: float = 0.0
    level_db: float = 0.0
    on_stroke: bool = False
    """True: the stroke lies at `at_s`; False: the note speaks there."""


@dataclass(frozen=True)
class TrueNote:
    """One note as it sounds; seconds from the line's first sample."""

    midi: int
    speaks_s: float
    stroke_s: float
    slurred: bool
    slow_s: float


@dataclass(frozen=True)
class Line:
    """A line and the truth about it."""

    samples: Sound
    notes: tuple[TrueNote, ...]
    end_s: float
    """Where the last note's sound ends, before any room."""


def played(strokes: Sequence[Stroke], bank: Bank, dice: np.random.Generator) -> Line:
    """The line played from the recorded notes of a bank, drawn by the dice."""
    end_s = max(stroke.end_s for stroke in strokes)
    out = np.zeros(round((end_s + TAIL_S) * RATE))
    notes: list[TrueNote] = []
    last: RecordedNote | None = None
    for group in _groups(strokes):
        last = _other_than(last, group, bank, dice)
        sound, begins_s, truths = _group(group, last, bank, dice)
        first = round(begins_s * RATE)
        assert first >= 0, "the first note would begin before the sound does"
        part = sound[: out.size - first]
        out[first : first + part.size] += part
        notes += truths
    return Line(out, tuple(notes), end_s)


def _groups(strokes: Sequence[Stroke]) -> list[list[Stroke]]:
    """Each struck note with those slurred to it."""
    groups: list[list[Stroke]] = []
    for stroke in strokes:
        if stroke.slurred and groups:
            groups[-1].append(stroke)
        else:
            groups.append([stroke])
    return groups


def _other_than(
    last: RecordedNote | None, group: Sequence[Stroke], bank: Bank, dice: np.random.Generator
) -> RecordedNote:
    """The file of a group's first note: no file twice in a row where there is another, and one that
    reaches up to what is slurred to it."""
    head = group[0]
    others = tuple(note for note in bank[head.midi] if note is not last) or bank[head.midi]
    needs_s = head.end_s - head.at_s + 0.05 * (len(group) > 1)
    if len(group) > 1 and max(note.lasts_s for note in others) <= needs_s:
        others = bank[head.midi]
    return _drawn(others, needs_s, dice)


def _group(
    group: Sequence[Stroke], source: RecordedNote, bank: Bank, dice: np.random.Generator
) -> tuple[Sound, float, list[TrueNote]]:
    """Sound, the time of its first sample, and what is true of its notes."""
    head = group[0]
    speaks_s = head.at_s + (source.slow_s if head.on_stroke else 0.0)
    begins_s = speaks_s - source.speaks_s
    truths = [
        TrueNote(head.midi, speaks_s, speaks_s - source.slow_s, False, source.slow_s),
        *(TrueNote(one.midi, one.at_s, one.at_s, True, 0.0) for one in group[1:]),
    ]
    if len(group) == 1:
        end_s = min(max(head.end_s, speaks_s + SHORTEST_S), speaks_s + source.lasts_s)
        sound = _tuned(source, source.cents, head.cents)[: round((end_s - begins_s) * RATE)]
        return _released(_levelled(sound, source.speaks_s, head.level_db)), begins_s, truths
    return _slurred_group(group, source, begins_s, bank, dice), begins_s, truths


def _slurred_group(
    group: Sequence[Stroke],
    source: RecordedNote,
    begins_s: float,
    bank: Bank,
    dice: np.random.Generator,
) -> Sound:
    slurs = [drawn_slur(abs(b.midi - a.midi), dice) for a, b in itertools.pairwise(group)]
    sound = _tuned(source, source.cents, group[0].cents)
    sound = _levelled(sound, source.speaks_s, group[0].level_db)
    for one, slur in zip(group[1:], slurs, strict=True):
        same = tuple(n for n in bank[one.midi] if n.dynamic == source.dynamic) or bank[one.midi]
        needs_s = one.end_s - one.at_s + SUSTAINED_FROM_S + 0.06
        note = _drawn(same, needs_s, dice)
        held = _tuned(note, note.held_cents, one.cents)[
            round((note.speaks_s + SUSTAINED_FROM_S) * RATE) :
        ]
        at = round((one.at_s - begins_s) * RATE)
        sound = joined(sound, _levelled(held, 0.0, one.level_db), at, slur)
    sound = sound[: round((group[-1].end_s - begins_s) * RATE)]
    for one, slur in zip(group[1:], slurs, strict=True):
        sound = dipped(sound, round((one.at_s - begins_s) * RATE), slur, LEVEL, dice)
    return _released(sound)


def _drawn(
    notes: Sequence[RecordedNote], needs_s: float, dice: np.random.Generator
) -> RecordedNote:
    """Any of the notes that last so long after they speak, else the longest."""
    long = [note for note in notes if note.lasts_s > needs_s]
    if long:
        return long[int(dice.integers(len(long)))]
    return max(notes, key=lambda note: note.lasts_s)


def _tuned(note: RecordedNote, own_cents: float, cents: float) -> Sound:
    """The note at so many cents; resampled, so its times move by less than 3 %."""
    step = 2 ** ((cents - own_cents) / 1200)
    places = np.arange(int(note.samples.size / step) - 2) * step
    return np.interp(places, np.arange(note.samples.size), note.samples)


def _levelled(sound: Sound, speaks_s: float, level_db: float) -> Sound:
    spoken = sound[round(speaks_s * RATE) :][: round(LEVELLED_S * RATE)]
    return sound * LEVEL / np.sqrt(np.mean(spoken**2)) * 10 ** (level_db / 20)


def _released(sound: Sound) -> Sound:
    fade = min(sound.size, round(RELEASE_S * RATE))
    sound = sound.copy()
    sound[sound.size - fade :] *= np.cos(np.linspace(0, np.pi / 2, fade))
    return sound
