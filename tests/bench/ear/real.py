"""Recorded flute, the half no constant was chosen by: runs stitched from notes, and phrases."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.util import find_spec
from itertools import pairwise

import numpy as np

from tests.bench.ear.readers import pyin_notes
from tests.bench.ear.scores import note_f
from tests.ear.made_flute import as_expected, in_a_room, microphoned
from tests.ear.recorded import RATE, RecordedNote, phrases, single_notes, sound_of, stitched
from trainer.ear.hear import hear
from trainer.ear.heard import Take
from trainer.ear.transcribe import transcribe
from trainer.music.note import Start
from trainer.music.tuning import Tuning

STEP_S = 15 / 90
ANOTHER_NOTE_SEMITONES = 0.5
PITCH_CENTS = 60.0
"""The files' own player stands up to 26 cents sharp in the top octave."""
DETACHED = {Start.TONGUED, Start.LEGATO_TONGUE, Start.BREATH}


@dataclass(frozen=True)
class RunScore:
    """Stitched sixteenths at 90, both dynamics."""

    told_f: float
    told_f_lag_removed: float
    untold_f: float
    detached: float
    """Share of the notes after the first heard as not slurred; all have their own attack."""
    pyin_f: float | None
    """Of librosa's pYIN cut where its pitch changes, which tells how hard the room is; None where
    it isn't installed."""


def stitched_runs(room_s: float, wet_db: float) -> RunScore:
    """Each note of the run another file, onsets where the files rise."""
    rows, starts, pyin = [], [], []
    for seed in (71, 72, 73):
        for dynamics in (("mezzo-piano", "forte"), ("piano", "pianissimo")):
            notes, samples, onsets_s = _run(seed, dynamics, room_s, wet_db)
            expected = as_expected([note.midi for note in notes])
            told = hear(samples, RATE, expected, 90, Tuning(), None, timed=False)
            untold = transcribe(samples, RATE, Tuning())
            told_f, _, lagged = _f(notes, onsets_s, told)
            rows.append((told_f, lagged, _f(notes, onsets_s, untold)[0]))
            if find_spec("librosa"):
                intervals_s, hz = pyin_notes(samples, RATE)
                pyin.append(_note_f(notes, onsets_s, intervals_s, hz)[0])
            starts += [note.start in DETACHED for note in told.expected_notes[1:] if note.start]
    told_f, lagged_f, untold_f = (float(x) for x in np.mean(rows, axis=0))
    return RunScore(
        told_f=told_f,
        told_f_lag_removed=lagged_f,
        untold_f=untold_f,
        detached=float(np.mean(starts)),
        pyin_f=float(np.mean(pyin)) if pyin else None,
    )


def _run(
    seed: int, dynamics: tuple[str, ...], room_s: float, wet_db: float
) -> tuple[list[RecordedNote], np.ndarray, np.ndarray]:
    dice = np.random.default_rng(seed)
    pool: dict[int, list[RecordedNote]] = {}
    for note in single_notes():
        fits = note.held_out and note.length == "025" and note.dynamic in dynamics
        if fits and 60 <= note.midi <= 96:
            pool.setdefault(note.midi, []).append(note)
    up = sorted(pool)
    notes = [pool[midi][dice.integers(len(pool[midi]))] for midi in [*up, *up[-2::-1]]]
    sound, onsets_s = stitched(notes, STEP_S)
    sound = 0.4 * sound / np.abs(sound).max()
    if room_s:
        sound = 0.5 * in_a_room(sound, RATE, room_s, dice, wet_db)
    return notes, microphoned(sound, dice, -66), onsets_s


def _f(notes: list[RecordedNote], onsets_s: np.ndarray, take: Take) -> tuple[float, float, float]:
    heard = [n for n in take.notes if n.onset_s is not None and n.midi is not None]
    intervals = [(max(0.0, n.onset_s or 0.0), max(0.1, (n.end_s or 0.0))) for n in heard]
    heard_s = np.array([(a, max(b, a + 0.01)) for a, b in intervals]).reshape(-1, 2)
    heard_hz = 440 * 2 ** ((np.array([n.midi for n in heard]) - 69) / 12)
    return _note_f(notes, onsets_s, heard_s, heard_hz)


def _note_f(
    notes: list[RecordedNote], onsets_s: np.ndarray, heard_s: np.ndarray, heard_hz: np.ndarray
) -> tuple[float, float, float]:
    true_hz = 440 * 2 ** ((np.array([n.midi for n in notes]) - 69) / 12)
    true_s = np.stack([onsets_s, onsets_s + STEP_S], axis=1)
    return note_f(true_s, true_hz, heard_s, heard_hz, PITCH_CENTS)


def detached_share(articulation: str) -> float:
    """Share of the notes of all phrases in one articulation heard as not slurred. The figure ends
    with repeated notes, which even legato is begun anew each time: only changes of pitch count."""
    starts = []
    for (_, kind), path in phrases().items():
        if kind == articulation:
            notes = transcribe(sound_of(path).astype(np.float32), RATE, Tuning()).notes
            starts += [
                note.start in DETACHED
                for before, note in pairwise(notes)
                if abs((note.midi or 0.0) - (before.midi or 0.0)) > ANOTHER_NOTE_SEMITONES
            ]
    return float(np.mean(starts)) if starts else float("nan")


def single_note_cents() -> tuple[float, float]:
    """Median and 95th of cents against a long-window reference of each held-out long note.

    Reference: the strongest five partials' peaks in one Blackman-windowed spectrum of the steady
    second, parabola on the log spectrum, each divided by its order and weighted by its power.
    """
    off = []
    for note in single_notes():
        if not (note.held_out and note.length in ("1", "long") and 60 <= note.midi <= 96):
            continue
        sound = sound_of(note.path)
        heard = transcribe(sound.astype(np.float32), RATE, Tuning()).notes
        longest = max(heard, key=lambda n: (n.end_s or 0) - (n.onset_s or 0), default=None)
        if longest is None or longest.midi is None or longest.onset_s is None:
            continue
        reference = _reference_midi(sound, longest.onset_s, longest.end_s or 0.0, longest.midi)
        if reference is not None:
            off.append(abs(100 * (longest.midi - reference)))
    errors = np.array(off)
    return float(np.median(errors)), float(np.percentile(errors, 95))


def _reference_midi(sound: np.ndarray, onset_s: float, end_s: float, near: float) -> float | None:
    part = sound[round((onset_s + 0.03) * RATE) : round((end_s - 0.03) * RATE)]
    if part.size < 0.3 * RATE:
        return None
    size = 1 << (4 * part.size - 1).bit_length()
    power = np.log(np.abs(np.fft.rfft(part * np.blackman(part.size), size)) + 1e-12)
    hz0 = 440 * 2 ** ((near - 69) / 12)
    readings, weights = [], []
    for order in range(1, 6):
        middle = round(order * hz0 * size / RATE)
        reach = round(0.02 * middle)
        if middle + reach + 1 >= power.size:
            break
        top = middle - reach + int(power[middle - reach : middle + reach].argmax())
        a, b, c = power[top - 1], power[top], power[top + 1]
        readings.append((top + 0.5 * (a - c) / (a - 2 * b + c)) * RATE / size / order)
        weights.append(np.exp(2 * b) * order**2)
    hz = float(np.average(readings, weights=weights))
    return float(69 + 12 * np.log2(hz / 440))
