"""Real flute notes, where they are at hand: single notes, phrases, and runs stitched from notes.

The recordings may not be passed on, so they are looked for beside the project and never copied
into it. A note's onset is put where it rises to 9 dB below its own steady level (between the
bottom of a slow attack and its top, as a hand label would be); a stitched run so has a known time
for every onset, to about the length of the attacks.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy import ndimage, signal

from trainer.music.pitch import Pitch

Sound = NDArray[np.float64]

RECORDINGS = Path(__file__).parents[3] / "shared" / "recordings"
RATE = 44100
_ONSET_DB = 9.0
_LEVELLED = 0.5
"""Share of the difference in level between files that is taken out."""
_NAME = re.compile(r"flute_([A-G]s?\d)_([^_]+)_([^_]+)_")
_LEAD_S = 0.03
"""How much of the attack before its onset sounds along with the end of the note before."""


@dataclass(frozen=True)
class RecordedNote:
    """One file of a single note."""

    path: Path
    midi: int
    length: str
    dynamic: str
    held_out: bool
    """Every second file by name is kept for reporting, never for choosing a constant."""


def single_notes() -> list[RecordedNote]:
    """Every single note at hand, by name; empty where there are none."""
    found = []
    for place, path in enumerate(sorted((RECORDINGS / "single").glob("*.mp3"))):
        match = _NAME.match(path.name)
        if match is not None:
            name, length, dynamic = match.groups()
            midi = Pitch.parse(name.replace("s", "#")).midi
            found.append(RecordedNote(path, midi, length, dynamic, place % 2 == 1))
    return found


def phrases() -> dict[tuple[str, str], Path]:
    """Phrase files by first note and articulation; empty where there are none."""
    found = {}
    for path in sorted((RECORDINGS / "phrase").glob("*.mp3")):
        words = path.stem.split("_")
        found[words[1], words[-1]] = path
    return found


@lru_cache(maxsize=300)
def sound_of(path: Path) -> Sound:
    """The samples of a file, mono."""
    samples, rate = soundfile.read(path, always_2d=True)
    assert rate == RATE
    return np.asarray(samples.mean(axis=1))


@lru_cache(maxsize=600)
def onset_and_level(path: Path, midi: int) -> tuple[int, float]:
    """Where a note rises to near its steady level, in samples, and that level, dB."""
    samples = sound_of(path)
    above_hz = 0.7 * 440 * 2 ** ((midi - 69) / 12)  # thumps of breath and room lie below
    high_pass = signal.butter(4, above_hz, "highpass", fs=RATE, output="sos")
    power = ndimage.uniform_filter1d(
        signal.sosfiltfilt(high_pass, samples) ** 2, round(0.01 * RATE)
    )
    level_db = 10 * np.log10(power + 1e-12)
    steady_db = np.percentile(level_db[level_db > level_db.max() - 30], 70)
    return int(np.argmax(level_db > steady_db - _ONSET_DB)), float(steady_db)


@lru_cache(maxsize=300)
def cut(path: Path, midi: int) -> Sound:
    """A note from just before its onset on, faded in."""
    samples = sound_of(path)
    onset, steady_db = onset_and_level(path, midi)
    lead = round(_LEAD_S * RATE)
    part = np.concatenate([np.zeros(lead), samples])[onset:].copy()
    part[:lead] *= np.linspace(0, 1, lead)
    return np.asarray(part / 10 ** (steady_db / 20 * _LEVELLED))


def stitched(
    notes: list[RecordedNote], step_s: float, overlap_s: float = 0.02, first_s: float = 0.4
) -> tuple[Sound, Sound]:
    """Notes one after another, the last of each fading under the next, and their onsets in s."""
    onsets_s = first_s + step_s * np.arange(len(notes))
    sound = np.zeros(round((onsets_s[-1] + step_s + 0.6) * RATE))
    for onset_s, note in zip(onsets_s, notes, strict=True):
        samples = cut(note.path, note.midi)
        length = min(samples.size, round((step_s + _LEAD_S + overlap_s) * RATE))
        part = samples[:length].copy()
        fade = min(length, round(overlap_s * RATE))
        part[-fade:] *= np.linspace(1, 0, fade)
        first = round((onset_s - _LEAD_S) * RATE)
        sound[first : first + length] += part
    return sound, onsets_s
