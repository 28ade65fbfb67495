"""Scores of readings against truth; mir_eval where it has the measure."""

from __future__ import annotations

from dataclasses import dataclass

import mir_eval
import numpy as np
from numpy.typing import NDArray

from tests.bench.ear.readers import Reading
from tests.bench.ear.takes import TrueTake

Array = NDArray[np.float64]

INSIDE_S = 0.03
"""Left out after each change, as the last note still rings."""
GROSS_CENTS = 50.0


@dataclass(frozen=True)
class OnsetScore:
    """Onsets of several takes."""

    f25: float
    f50: float
    median_ms: float
    """Median size of the error among onsets found within 50 ms."""


def onset_score(pairs: list[tuple[TrueTake, Reading]]) -> OnsetScore | None:
    """F at 25 and 50 ms (mir_eval.onset), and how far off the found ones are."""
    answered = [(true, r.onsets_s) for true, r in pairs if r.onsets_s is not None]
    if not answered:
        return None
    f25, f50, off = [], [], []
    for true, onsets_s in answered:
        heard_s = np.sort(np.maximum(onsets_s, 0.0))
        f25.append(mir_eval.onset.f_measure(true.onsets_s, heard_s, window=0.025)[0])
        f50.append(mir_eval.onset.f_measure(true.onsets_s, heard_s, window=0.05)[0])
        matched = mir_eval.util.match_events(true.onsets_s, heard_s, 0.05)
        off += [1000 * abs(heard_s[h] - true.onsets_s[t]) for t, h in matched]
    return OnsetScore(
        float(np.mean(f25)),
        float(np.mean(f50)),
        float(np.median(off)) if off else np.nan,
    )


@dataclass(frozen=True)
class CentsScore:
    """Cents of several takes."""

    median: float
    at_95: float
    gross: float
    """Share of notes more than 50 cents off, or not found."""


def cents_score(pairs: list[tuple[TrueTake, Reading]]) -> CentsScore | None:
    """Cents per note: of the note at the same place, or the median of the track inside it."""
    off = [one for true, reading in pairs for one in _cents(true, reading)]
    if not off:
        return None
    errors = np.abs(np.array(off))
    fine = errors[errors <= GROSS_CENTS]
    if fine.size == 0:
        return CentsScore(np.nan, np.nan, 1.0)
    return CentsScore(
        float(np.median(fine)),
        float(np.percentile(fine, 95)),
        float(np.mean(~(errors <= GROSS_CENTS))),
    )


def _cents(true: TrueTake, reading: Reading) -> list[float]:
    if reading.track_s is not None and reading.track_hz is not None:
        return _track_cents(true, reading.track_s, reading.track_hz)
    if reading.hz is None or reading.intervals_s is None or reading.take is None:
        return []
    middles = true.intervals_s.mean(axis=1)
    off = []
    for middle, hz in zip(middles, true.hz, strict=True):
        inside = (reading.intervals_s[:, 0] <= middle) & (middle < reading.intervals_s[:, 1])
        at = np.flatnonzero(inside)
        off.append(1200 * np.log2(reading.hz[at[0]] / hz) if at.size else np.inf)
    return off


def _track_cents(true: TrueTake, track_s: Array, track_hz: Array) -> list[float]:
    off = []
    for (onset_s, end_s), hz in zip(true.intervals_s, true.hz, strict=True):
        inside = (track_s > onset_s + INSIDE_S) & (track_s < end_s - 0.01) & (track_hz > 0)
        found = track_hz[inside]
        off.append(1200 * np.log2(np.median(found) / hz) if found.size else np.inf)
    return off


@dataclass(frozen=True)
class NoteScore:
    """mir_eval.transcription: onset within 50 ms and pitch within 50 cents."""

    f: float
    f_with_ends: float
    """The end within 50 ms or a fifth of the note's length, too."""


def note_score(pairs: list[tuple[TrueTake, Reading]]) -> NoteScore | None:
    """Notes of several takes, averaged over takes."""
    rows = []
    for true, reading in pairs:
        if reading.intervals_s is None or reading.hz is None:
            continue
        rows.append(note_f(true.intervals_s, true.hz, reading.intervals_s, reading.hz))
    if not rows:
        return None
    f, with_ends, _ = np.mean(rows, axis=0)
    return NoteScore(float(f), float(with_ends))


def note_f(
    true_s: Array, true_hz: Array, heard_s: Array, heard_hz: Array, pitch_cents: float = 50.0
) -> tuple[float, float, float]:
    """Note F by onset, with ends, and by onset with the median lag removed."""
    good = heard_hz > 20
    heard_s, heard_hz = heard_s[good], heard_hz[good]
    if not heard_hz.size:
        return 0.0, 0.0, 0.0

    def f(intervals: Array, offset_ratio: float | None) -> float:
        return float(
            mir_eval.transcription.precision_recall_f1_overlap(
                true_s,
                true_hz,
                intervals,
                heard_hz,
                pitch_tolerance=pitch_cents,
                offset_ratio=offset_ratio,
            )[2]
        )

    matched = mir_eval.transcription.match_note_onsets(true_s, heard_s, onset_tolerance=0.1)
    lag_s = float(np.median([heard_s[h, 0] - true_s[t, 0] for t, h in matched])) if matched else 0.0
    moved = np.maximum(heard_s - lag_s, 0.0)
    moved[:, 1] = np.maximum(moved[:, 1], moved[:, 0] + 0.001)
    return f(heard_s, None), f(heard_s, 0.2), f(moved, None)
