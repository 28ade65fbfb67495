"""One run over everything: takes × readers, then what only this ear measures."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from time import process_time

import numpy as np

from tests.bench.ear import measures, real
from tests.bench.ear.bound import BoundRow, bound_row
from tests.bench.ear.readers import Named, Reading, readers
from tests.bench.ear.scores import (
    CentsScore,
    NoteScore,
    OnsetScore,
    cents_score,
    note_score,
    onset_score,
)
from tests.bench.ear.takes import ROOMS_S, STARTS, TrueTake, made, takes
from tests.ear.recorded import RECORDINGS
from trainer.music.note import Start

Pairs = list[tuple[TrueTake, Reading]]
SLOW_BPM = 100
"""The one tempo at which slow readers are run."""
BOUNDS = ((0.125, 30.0), (0.25, 30.0), (0.5, 30.0), (0.125, 20.0), (0.125, 10.0))
HALLS = ((0.0, 0.0), (0.3, -6.0), (1.5, -12.0), (1.5, -8.0), (1.5, -4.0))
"""Reverberation time of the stitched runs' rooms, and the tail's level against the direct sound:
one hall from three distances."""


@dataclass
class ReaderResult:
    """One reader's scores; keys are (start, room)."""

    name: str
    onsets: dict[tuple[Start, float], OnsetScore | None] = field(default_factory=dict)
    cents: dict[tuple[Start, float], CentsScore | None] = field(default_factory=dict)
    notes: dict[tuple[Start, float], NoteScore | None] = field(default_factory=dict)
    cpu: float = 0.0
    """Processor seconds per second of sound."""


@dataclass
class Results:
    """Everything one run found."""

    readers: list[ReaderResult]
    leak: dict[Start, OnsetScore | None]
    starts: dict[float, dict[Start, Counter[str]]]
    silent_air: dict[float, float]
    bounds: list[BoundRow]
    stumbles: dict[float, dict[str, float]]
    odd_even: dict[float, measures.OddEven]
    vibrato: dict[float, tuple[float, float, float]]
    trill: dict[float, float]
    quick: dict[float, float]
    otherwise: dict[float, dict[tuple[Start, Start], float]]
    cost: measures.Cost
    runs: dict[tuple[float, float], real.RunScore]
    phrases: dict[str, float]
    recorded_cents: tuple[float, float] | None


def run(*, ours_only: bool) -> Results:
    """Run all; says on stderr what it is at."""
    entries = readers()[: 2 if ours_only else None]
    results, told_pairs = [], dict[tuple[Start, float], Pairs]()
    for entry in entries:
        _say(entry.name)
        result, by_place = _read_all(entry)
        results.append(result)
        told_pairs = told_pairs or by_place
    _say("what only this ear measures")
    recorded = RECORDINGS.is_dir()
    return Results(
        readers=results,
        leak={
            start: onset_score(_pairs(entries[0], list(takes([start], 0.0, leak=True))))
            for start in STARTS[:-1]
        },
        starts={
            room_s: measures.start_counts(
                [
                    pair
                    for (_, room), pairs in told_pairs.items()
                    if room == room_s
                    for pair in pairs
                ]
            )
            for room_s in ROOMS_S
        },
        silent_air={room_s: _silent_air(entries[0], room_s) for room_s in ROOMS_S},
        bounds=[bound_row(s, snr, np.random.default_rng(7100)) for s, snr in BOUNDS],
        stumbles={room_s: measures.stumbles(room_s) for room_s in ROOMS_S},
        odd_even={room_s: measures.odd_even(room_s) for room_s in ROOMS_S},
        vibrato={room_s: measures.vibrato(room_s) for room_s in ROOMS_S},
        trill={room_s: measures.trill(room_s) for room_s in ROOMS_S},
        quick={room_s: measures.quick_answers(room_s) for room_s in ROOMS_S},
        otherwise={room_s: measures.against_what_was_asked(room_s) for room_s in ROOMS_S},
        cost=measures.cost(),
        runs={hall: real.stitched_runs(*hall) for hall in HALLS} if recorded else {},
        phrases={
            kind: real.detached_share(kind)
            for kind in ("legato", "tenuto", "nonlegato", "staccato")
        }
        if recorded
        else {},
        recorded_cents=real.single_note_cents() if recorded else None,
    )


def _read_all(entry: Named) -> tuple[ReaderResult, dict[tuple[Start, float], Pairs]]:
    result = ReaderResult(entry.name)
    entry.read(made(Start.SLURRED, 160, 0.0, 1))  # compiles and loads before its time is taken
    by_place: dict[tuple[Start, float], Pairs] = {}
    spent_s, sound_s = 0.0, 0.0
    for room_s in ROOMS_S:
        for start in STARTS:
            chosen = [t for t in takes([start], room_s) if not entry.slow or t.bpm == SLOW_BPM]
            began = process_time()
            pairs = _pairs(entry, chosen)
            spent_s += process_time() - began
            sound_s += sum(true.seconds for true in chosen)
            key = start, room_s
            by_place[key] = pairs
            result.onsets[key] = onset_score(pairs)
            result.cents[key] = cents_score(pairs)
            result.notes[key] = note_score(pairs)
    result.cpu = spent_s / sound_s
    return result, by_place


def _pairs(entry: Named, chosen: Sequence[TrueTake]) -> Pairs:
    return [(true, entry.read(true)) for true in chosen]


def _silent_air(entry: Named, room_s: float) -> float:
    """Share of silent puffs heard as such within 50 ms of their beginning."""
    right, total = 0, 0
    for true, reading in _pairs(entry, list(takes([Start.SILENT_AIR], room_s))):
        assert reading.take is not None
        for note in reading.take.expected_notes:
            total += 1
            if note.onset_s is not None and note.index is not None:
                near = abs(note.onset_s - true.truth[note.index].onset_s) < 0.05
                right += near and note.start is Start.SILENT_AIR
    return right / total


def _say(what: str) -> None:
    print(f"… {what}", file=sys.stderr, flush=True)
