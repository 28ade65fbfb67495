"""Slurs: as measured on recorded ones, and how sustained notes are joined to be like them.

Measured on the recorded legato phrases and trills (level: power over 6 ms; dip: against the softer
of the two notes 50 to 100 ms away, 20 to 45 ms in trills; width
at half depth; above 5 kHz: against the noisier note; quartiles):

| what | seams | dip, dB | width, ms | its place, ms | above 5 kHz, highest, dB |
|---|---|---|---|---|---|
| legato, half step | 17 | 5.0–7.0–9.8 | 8–11–29 | +3 | −0.7 to 4.5 |
| legato, whole step | 9 | 2.6–6.8–7.7 | 3–4–16 | 0 | 1.8 to 3.5 |
| legato, thirds and fourths | 12 | 4.8–6.3–10.5 | 11–21–25 | +2 | −0.2 to 2.1 |
| legato, wider | 31 | 8.1–8.9–12.8 (16.5 in one of ten) | 11–15–26 | 0 | −2.5 to 3.6 |
| trill, half step | 195 | 1.2–1.7–2.3 | 0–5–8 | +2 | 0.9 to 2.3 |
| trill, whole step | 157 | 2.3–3.7–6.5 | 5–8–10 | 0 | 1.0 to 2.4 |

The highest of some fifteen readings of noise lies 1 to 3 dB above its median by chance: there is no
burst. The band above 5 kHz dips with the tone. A raised cosine has twice its width at half depth
from end to end. A made slur still has both notes at their own steady level and colour to either
side, without the fingers' in-between tones: it is easier than a real one.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cache

import librosa
import numpy as np
from scipy import signal

from tests.bench.ear.recorded.heard_by import RATE, Sound
from tests.bench.ear.recorded.notes import Part, named, sound_of
from tests.bench.ear.recorded.shared import RECORDINGS, cached

LEAP_SEMITONES = 5.5


@dataclass(frozen=True)
class Slur:
    """How one slur goes."""

    dip_db: float
    width_s: float
    """Of the dip, from end to end."""
    off_s: float
    """The dip's middle after the change of tones."""
    fade_s: float
    """Over this the tail of the old tone lies under the new one."""
    key_db: float | None
    """Noise of the key against the tone; None: not to be heard."""


def drawn_slur(semitones: int, dice: np.random.Generator) -> Slur:
    """A slur over an interval, drawn from what was measured."""
    low, high = (6.0, 16.0) if semitones > LEAP_SEMITONES else (2.5, 11.0)
    return Slur(
        dip_db=float(dice.uniform(low, high)),
        width_s=float(dice.uniform(0.015, 0.06)),
        off_s=float(dice.normal(0.001, 0.003)),
        fade_s=float(dice.uniform(0.003, 0.03)),
        key_db=float(dice.uniform(-42, -30)) if dice.random() < 0.4 else None,
    )


def joined(before: Sound, after: Sound, at: int, slur: Slur) -> Sound:
    """The second sound from sample `at` on, the first fading under it at equal power."""
    fade = round(slur.fade_s * RATE)
    first = at - fade // 2
    out = np.zeros(first + after.size)
    out[:first] = before[:first]
    turn = np.linspace(0, np.pi / 2, fade)
    tail = before[first : first + fade]
    out[first : first + tail.size] += tail * np.cos(turn)[: tail.size]
    risen = after.copy()
    risen[:fade] *= np.sin(turn)
    out[first:] += risen
    return out


def dipped(sound: Sound, at: int, slur: Slur, level: float, dice: np.random.Generator) -> Sound:
    """The sound with the dip of a slur at `at`, and sometimes the noise of a key just before."""
    out = sound.copy()
    width = round(slur.width_s * RATE)
    first = max(0, at + round(slur.off_s * RATE) - width // 2)
    shape_db = -slur.dip_db * np.hanning(width)
    part = out[first : first + width]
    part *= 10 ** (shape_db[: part.size] / 20)
    if slur.key_db is not None:
        _add_key(out, at, level * 10 ** (slur.key_db / 20), dice)
    return out


def _add_key(out: Sound, at: int, level: float, dice: np.random.Generator) -> None:
    length = round(dice.uniform(0.004, 0.015) * RATE)
    first = max(0, at - round(dice.uniform(0, 0.02) * RATE))
    band = signal.butter(2, (300, 3500), "bandpass", fs=RATE, output="sos")
    noise = signal.sosfilt(band, dice.standard_normal(length))
    noise *= np.hanning(length) * level / (noise.std() + 1e-12)
    part = out[first : first + length]
    part += noise[: part.size]


# Entirely real slurs ------------------------------------------------------------------------------


@dataclass(frozen=True)
class RealSlurs:
    """A recording of one slurred line, cut where its pitch changes."""

    name: str
    kind: str
    """legato or trill."""
    samples: Sound
    midis: tuple[int, ...]
    onsets_s: tuple[float, ...]
    """One a note; each but the first is a slur. To some 10 ms: places of changing pitch."""


@cache
def real_slurs(part: Part) -> tuple[RealSlurs, ...]:
    """The recorded legato phrases and trills."""
    files = [
        *sorted((RECORDINGS / "phrase").glob("*_legato.mp3")),
        *sorted((RECORDINGS / "long").glob("*-trill.mp3")),
    ]
    found = []
    for path in files:
        words = named(path.name)
        if words is not None and part.holds(words[0]):
            kind = "trill" if "trill" in path.name else "legato"
            samples = sound_of(f"{path.parent.name}/{path.name}")
            midis, onsets_s = _cut(path.stem, kind, samples)
            found.append(RealSlurs(path.stem, kind, samples, midis, onsets_s))
    return tuple(found)


def _cut(name: str, kind: str, samples: Sound) -> tuple[tuple[int, ...], tuple[float, ...]]:
    file = cached(f"seams-{name}.npy")
    if not file.exists():
        np.save(file, _trill(samples) if kind == "trill" else _phrase(samples))
    midis, onsets_s = np.load(file)
    return tuple(map(int, midis)), tuple(map(float, onsets_s))


def _phrase(samples: Sound) -> Sound:
    """Pitches and onsets of the stretches of one pitch, read by pYIN; shape (2, notes)."""
    hz, _, _ = librosa.pyin(
        samples, fmin=230, fmax=3000, sr=RATE, frame_length=1024, hop_length=128
    )
    rounded = np.round(librosa.hz_to_midi(np.nan_to_num(hz, nan=1.0)))
    edges = np.flatnonzero(np.diff(rounded, prepend=-1.0, append=-1.0))
    notes: list[tuple[float, float]] = []
    for first, end in itertools.pairwise(edges):
        midi, long = rounded[first], (end - first) * 128 / RATE > 0.06
        if midi > 40 and long and (not notes or notes[-1][0] != midi):
            notes.append((midi, first * 128 / RATE))
    return np.array(notes).T


def _trill(samples: Sound) -> Sound:
    """Likewise for two pitches in turn, read by YIN: each side of their middle is a note. In two
    files a tone 12 to 20 dB softer, or a false start, comes before the trill."""
    hop = 64
    hz = librosa.yin(samples, fmin=230, fmax=3200, sr=RATE, frame_length=768, hop_length=hop)
    level = librosa.feature.rms(y=samples, frame_length=768, hop_length=hop)[0]
    count = min(hz.size, level.size)
    midi = librosa.hz_to_midi(hz[:count])
    sounding = level[:count] > 0.3 * level.max()
    low, high = np.percentile(midi[sounding], (12, 88))
    upper = signal.medfilt((midi > (low + high) / 2).astype(float), 15) > 0.5
    places = np.flatnonzero(sounding)
    edges = [int(places[0]), *(np.flatnonzero(np.diff(upper.astype(int))) + 1)]
    inside = [edge for edge in edges if places[0] <= edge < places[-1] - 0.04 * RATE / hop]
    rows = [(round(high) if upper[edge] else round(low), edge * hop / RATE) for edge in inside]
    return np.array(rows, float).T
