"""One recorded note a file: how many notes are heard, and what of the room's tail becomes one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tests.bench.ear.recorded.heard_by import RATE, Heard, Sound, heard_told, heard_untold, in_order
from tests.bench.ear.recorded.notes import (
    RECORDED,
    RecordedNote,
    bank,
    named,
    sound_of,
    stroke_and_speaking,
)
from tests.bench.ear.recorded.plan import Plan
from tests.bench.ear.recorded.rooms import place
from tests.bench.ear.recorded.shared import RECORDINGS

LEAD_S, AFTER_S = 0.4, 0.8
CUT_FADE_S = 0.02
AFTER_END_S = 0.03
"""A note begun so long after the sound's end is the room's."""


@dataclass(frozen=True)
class OneNote:
    """One file, with silence around it."""

    name: str
    midi: int
    swell: bool
    samples: Sound


def held(plan: Plan) -> Iterator[dict]:
    """A record for each file and room: extra notes, told that it is one, and told nothing."""
    files = plan.some(list(_files(plan)))
    for room in plan.rooms:
        for number, one in enumerate(files):
            where = place(room, plan.seed + number)
            sound = where.heard(one.samples)
            told, untold = heard_told(sound, in_order([one.midi])), heard_untold(sound)
            yield plan.tags(where) | {
                "file": one.name,
                "kind": "swell" if one.swell else "note",
                "missed": sum(note.state == "missed" for note in told),
                "extra": sum(note.index is None for note in told),
                "extra untold": max(0, len(untold) - 1),
                "unheard untold": not untold,
            }


def _files(plan: Plan) -> Iterator[OneNote]:
    """The swells of the recorded player, and the notes of the plan's."""
    for path in sorted((RECORDINGS / "long").glob("*cresc*.mp3")):
        words = named(path.name)
        if plan.player == RECORDED and words is not None and plan.part.holds(words[0]):
            yield OneNote(path.stem, words[0], True, _padded(sound_of(f"long/{path.name}")))
    for notes in bank(plan.part, player=plan.player).values():
        for note in notes:
            yield OneNote(note.name, note.midi, False, _padded(note.samples))


def _padded(sound: Sound) -> Sound:
    return np.pad(sound, (round(LEAD_S * RATE), round(AFTER_S * RATE)))


def tails(plan: Plan) -> Iterator[dict]:
    """A record for each note cut short and room: notes begun after its end, told and untold, and
    whether the tail is taken for the same note asked a second time."""
    long = [
        note
        for notes in bank(plan.part, lambda note: note.length != "025").values()
        for note in notes
        if note.samples.size > 0.8 * RATE
    ]
    for room in plan.rooms:
        for number, note in enumerate(plan.some(long, per=4)):
            where = place(room, plan.seed + number)
            samples, end_s = _cut_short(note)
            sound = where.heard(samples)
            told = heard_told(sound, in_order([note.midi]))
            twice = heard_told(sound, in_order([note.midi, note.midi]))
            yield plan.tags(where) | {
                "file": note.name,
                "after": _after(told, end_s),
                "after untold": _after(heard_untold(sound), end_s),
                "taken for the next": _after(twice, end_s) > 0,
            }


def _cut_short(note: RecordedNote) -> tuple[Sound, float]:
    """The note's loud first half, a quick end, silence; and when the end is."""
    _, speaks = stroke_and_speaking(note.samples)
    kept = note.samples[: speaks + round(0.5 * RATE)].copy()
    fade = round(CUT_FADE_S * RATE)
    kept[-fade:] *= np.cos(np.linspace(0, np.pi / 2, fade))
    return _padded(kept), LEAD_S + kept.size / RATE


def _after(heard: list[Heard], end_s: float) -> int:
    return sum(
        note.onset_s is not None and note.state != "missed" and note.onset_s > end_s + AFTER_END_S
        for note in heard
    )
