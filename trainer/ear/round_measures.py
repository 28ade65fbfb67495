"""The round as a whole: steadiness, evenness, odd and even, tuning. Pure arithmetic on notes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from trainer.ear.heard import HeardNote, RoundMeasures, State
from trainer.music.note import Note

FEWEST = 4
"""Fewer notes say nothing about evenness."""
RUN_BREAK = 1.0
"""A step off its length by more than this share of a note is a stop, not unevenness."""

Times = NDArray[np.float64]


def measured(
    notes: Sequence[HeardNote],
    expected: Sequence[Note],
    beat_s: float,
    first_beat_s: float | None,
) -> RoundMeasures:
    """Measures of a take; places on the beat only where the first beat is known."""
    states = Counter(note.state for note in notes)
    timed = [
        (note, expected[note.index])
        for note in notes
        if note.index is not None and note.onset_s is not None
    ]
    onsets_s = np.array([note.onset_s for note, _ in timed], np.float64)
    beats = np.array([float(note.beat) for _, note in timed], np.float64)
    cents = [note.cents for note in notes if note.cents is not None]
    levels = [note.level_db for note in notes if note.index is not None and note.level_db]
    runs = [run for run in _runs(onsets_s, beats * beat_s) if run.size >= FEWEST]
    sounds_s = np.array([note.sounds_s for note, _ in timed], np.float64)
    evenness_ms = _evenness_ms((onsets_s, sounds_s), beats, runs)
    pair_ms, pair_db = _odd_even(timed)
    note_s = beat_s * float(np.median([float(n.length) for n in expected])) if expected else 0.0
    on_beat = np.array([b.is_integer() for b in beats], bool)
    lead = None
    steadiness = None
    if first_beat_s is not None and onsets_s.size:
        lead = float(1000 * np.median(onsets_s - first_beat_s - beats * beat_s))
    if on_beat.sum() >= FEWEST:
        line = np.polyfit(beats[on_beat], onsets_s[on_beat], 1)
        steadiness = float(1000 * (onsets_s[on_beat] - np.polyval(line, beats[on_beat])).std())
    return RoundMeasures(
        played=states[State.PLAYED],
        missed=states[State.MISSED],
        extra=states[State.EXTRA],
        lead_ms=lead,
        steadiness_ms=steadiness,
        evenness_ms=evenness_ms,
        evenness_share=None if evenness_ms is None else evenness_ms / 1000 / note_s,
        tempo_bpm=_tempo(onsets_s, beats, runs),
        odd_even_ms=pair_ms,
        odd_even_db=pair_db,
        cents_median=float(np.median(cents)) if cents else None,
        cents_spread=float(np.std(cents)) if len(cents) > 1 else None,
        level_db=float(np.median(levels)) if levels else None,
    )


def _runs(onsets_s: Times, places_s: Times) -> list[NDArray[np.int64]]:
    """Stretches without a stop, as positions among the played notes."""
    if onsets_s.size < 2:
        return []
    steps, asked = np.diff(onsets_s), np.diff(places_s)
    smallest = float(np.median(asked[asked > 0])) if (asked > 0).any() else 1.0
    broken = (np.abs(steps - asked) > RUN_BREAK * smallest) | (asked <= 0)
    return np.split(np.arange(onsets_s.size), np.flatnonzero(broken) + 1)


def _evenness_ms(
    places_s: Sequence[Times], beats: Times, runs: Sequence[NDArray[np.int64]]
) -> float | None:
    """The least spread about even lines that one of several readings of the notes' places has."""
    residuals = [_residuals(place_s, beats, runs) for place_s in places_s]
    spreads = [float(1000 * off.std()) for off in residuals if off.size >= FEWEST]
    return min(spreads, default=None)


def _residuals(onsets_s: Times, beats: Times, runs: Sequence[NDArray[np.int64]]) -> Times:
    """Onsets about a straight line fitted over each run (van Vugt, Jabusch & Altenmüller 2012,
    Front Psychol 3:495, measure scales the same way)."""
    parts = []
    for run in runs:
        line = np.polyfit(beats[run], onsets_s[run], 1)
        parts.append(onsets_s[run] - np.polyval(line, beats[run]))
    return np.concatenate(parts) if parts else np.zeros(0)


def _tempo(onsets_s: Times, beats: Times, runs: Sequence[NDArray[np.int64]]) -> float | None:
    """The tempo of the longest run."""
    if not runs:
        return None
    run = max(runs, key=len)
    slope = float(np.polyfit(beats[run], onsets_s[run], 1)[0])
    return 60.0 / slope if slope > 0 else None


def _odd_even(
    timed: Sequence[tuple[HeardNote, Note]],
) -> tuple[float | None, float | None]:
    """Second notes of pairs against their neighbours: lateness in ms and level in dB, medians."""
    late_ms, softer_db = [], []
    by_index = {note.index: heard for heard, note in timed}
    for index, heard in by_index.items():
        before, after = by_index.get(index - 1), by_index.get(index + 1)
        if index % 2 == 0 or before is None or after is None:
            continue
        if before.onset_s is not None and after.onset_s is not None and heard.onset_s is not None:
            late_ms.append(1000 * (heard.onset_s - (before.onset_s + after.onset_s) / 2))
        if None not in (before.level_db, after.level_db, heard.level_db):
            around = (before.level_db + after.level_db) / 2  # type: ignore[operator]
            softer_db.append(heard.level_db - around)  # type: ignore[operator]
    return (
        float(np.median(late_ms)) if len(late_ms) >= FEWEST else None,
        float(np.median(softer_db)) if len(softer_db) >= FEWEST else None,
    )
