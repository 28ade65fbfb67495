"""This ear and other libraries behind one face: samples in, notes and a pitch track out.

Libraries are run with their own defaults unless said, and none is told what was expected; this ear
is shown twice, told and untold. A library that isn't installed is left out and said so.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from tests.bench.ear.takes import FIRST_S, RATE, TrueTake
from trainer.ear.hear import hear
from trainer.ear.heard import HeardNote, Take
from trainer.ear.transcribe import transcribe
from trainer.music.tuning import Tuning

Array = NDArray[np.float64]
_HOP = 256
_SHORTEST_NOTE_S = 0.04


@dataclass(frozen=True)
class Reading:
    """What a reader made of one take; None where it has no such answer."""

    onsets_s: Array | None = None
    intervals_s: Array | None = None
    hz: Array | None = None
    """Of the notes."""
    track_s: Array | None = None
    track_hz: Array | None = None
    take: Take | None = None


Reader = Callable[[TrueTake], Reading]


def told(true: TrueTake) -> Reading:
    """This ear, knowing the notes and the beat."""
    take = hear(true.samples, RATE, true.expected, true.bpm, Tuning(), FIRST_S, clicks=true.clicks)
    return _of(take)


def untold(true: TrueTake) -> Reading:
    """This ear, listening freely."""
    return _of(transcribe(true.samples, RATE, Tuning()))


def _of(take: Take) -> Reading:
    notes = [note for note in take.notes if note.onset_s is not None]
    return Reading(
        onsets_s=np.array([note.onset_s for note in notes], np.float64),
        intervals_s=np.array([_interval(note) for note in notes], np.float64).reshape(-1, 2),
        hz=np.array([440 * 2 ** (((note.midi or 0) - 69) / 12) for note in notes]),
        take=take,
    )


def _interval(note: HeardNote) -> tuple[float, float]:
    onset_s = max(note.onset_s or 0.0, 0.0)
    return onset_s, max(note.end_s or 0.0, onset_s + 0.01)


def _aubio_blocks(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    whole = np.pad(samples, (0, -samples.size % _HOP))
    return whole.reshape(-1, _HOP)


def aubio_onset(method: str) -> Reader:
    """aubio's onset detector with one of its methods."""

    def read(true: TrueTake) -> Reading:
        import aubio

        detector = aubio.onset(method, 1024, _HOP, RATE)
        found = [detector.get_last_s() for b in _aubio_blocks(true.samples) if detector(b)[0]]
        return Reading(onsets_s=np.array(found, np.float64))

    return read


def aubio_pitch(method: str, window: int = 2048) -> Reader:
    """aubio's pitch tracker with one of its methods."""

    def read(true: TrueTake) -> Reading:
        import aubio

        tracker = aubio.pitch(method, window, _HOP, RATE)
        hz = np.array([tracker(block)[0] for block in _aubio_blocks(true.samples)], np.float64)
        # a window ends with the block just fed
        times = (np.arange(hz.size) + 1) * _HOP / RATE - window / 2 / RATE
        return Reading(track_s=times, track_hz=hz)

    return read


def aubio_notes(true: TrueTake) -> Reading:
    """aubio's note detector."""
    import aubio

    detector = aubio.notes("default", 2048, _HOP, RATE)
    begun: list[tuple[float, float]] = []
    for place, block in enumerate(_aubio_blocks(true.samples)):
        midi = float(detector(block)[0])
        if midi > 0:
            begun.append((place * _HOP / RATE, midi))
    times = np.array([s for s, _ in begun])
    ends = np.append(times[1:], true.seconds)
    return Reading(
        intervals_s=np.stack([times, np.maximum(ends, times + 0.01)], axis=1),
        hz=440 * 2 ** ((np.array([m for _, m in begun]) - 69) / 12),
    )


def librosa_onset(true: TrueTake) -> Reading:
    """librosa's spectral flux onset detector, back to a 256 hop."""
    import librosa

    found = librosa.onset.onset_detect(y=true.samples, sr=RATE, hop_length=_HOP, units="time")
    return Reading(onsets_s=np.asarray(found, np.float64))


def librosa_yin(true: TrueTake) -> Reading:
    """librosa's YIN over the flute's range."""
    import librosa

    hz = librosa.yin(true.samples, fmin=220, fmax=2500, sr=RATE, hop_length=_HOP)
    return Reading(track_s=np.arange(hz.size) * _HOP / RATE, track_hz=np.asarray(hz, np.float64))


def librosa_pyin(true: TrueTake) -> Reading:
    """librosa's probabilistic YIN, cut into notes where its pitch changes."""
    times, hz = _pyin(true.samples, RATE)
    intervals, notes_hz = _cut(times, hz)
    return Reading(
        onsets_s=intervals[:, 0],
        intervals_s=intervals,
        hz=notes_hz,
        track_s=times,
        track_hz=np.nan_to_num(hz),
    )


def pyin_notes(samples: NDArray[np.float32], rate: int) -> tuple[Array, Array]:
    """librosa's pYIN cut into notes where its pitch changes: intervals in s and Hz."""
    return _cut(*_pyin(samples, rate))


def _pyin(samples: NDArray[np.float32], rate: int) -> tuple[Array, Array]:
    """Times and Hz of pYIN's frames, NaN where it hears no voice."""
    import librosa

    hz, voiced, _ = librosa.pyin(samples, fmin=220, fmax=2500, sr=rate, hop_length=_HOP)
    return np.arange(hz.size) * _HOP / rate, np.where(voiced, hz, np.nan)


def _cut(times_s: Array, hz: Array) -> tuple[Array, Array]:
    """Stretches on one semitone, as notes."""
    midi = np.round(69 + 12 * np.log2(hz / 440))
    key = np.nan_to_num(midi, nan=-1.0)
    edges = np.flatnonzero(np.diff(key, prepend=-2.0, append=-2.0))
    intervals, notes_hz = [], []
    for first, end in pairwise(edges):
        long_s = (end - first) * (times_s[1] - times_s[0])
        if key[first] >= 0 and long_s >= _SHORTEST_NOTE_S:
            intervals.append((times_s[first], times_s[first] + long_s))
            notes_hz.append(float(np.median(hz[first:end])))
    return np.array(intervals, np.float64).reshape(-1, 2), np.array(notes_hz)


@dataclass(frozen=True)
class Named:
    """A reader and what it is called in the tables."""

    name: str
    read: Reader
    slow: bool = False
    """Run on a part of the takes only."""


def readers() -> list[Named]:
    """This ear first, then whatever is installed."""
    found = [Named("this ear, told the notes", told), Named("this ear, told nothing", untold)]
    if importlib.util.find_spec("aubio"):
        found += [Named(f"aubio onset, {m}", aubio_onset(m)) for m in ("hfc", "energy", "specflux")]
        found += [
            Named("aubio pitch, yinfft", aubio_pitch("yinfft")),
            Named("aubio pitch, yinfast", aubio_pitch("yinfast")),
            Named("aubio pitch, fcomb", aubio_pitch("fcomb", 4096)),
            Named("aubio notes", aubio_notes),
        ]
    if importlib.util.find_spec("librosa"):
        found += [
            Named("librosa onset", librosa_onset),
            Named("librosa YIN", librosa_yin),
            Named("librosa pYIN", librosa_pyin, slow=True),
        ]
    return found


def versions() -> str:
    """What was compared, with versions."""
    from importlib.metadata import PackageNotFoundError, version

    said: list[str] = []
    for package in ("numpy", "scipy", "aubio-ledfx", "librosa", "mir_eval"):
        try:
            said.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            said.append(f"{package} not installed")
    return ", ".join(said)
