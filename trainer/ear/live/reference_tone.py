"""Where A4 stands in this room: somebody gives a note, on a piano, an oboe, a fork, an organ.

The strongest line of the note's own letter is read, folded into the octave of A4 415 to 446 Hz:
which octave was struck, and the other notes of a chord on it, don't matter. Of its octaves the
lowest that is near as strong is taken, since a piano's upper partials stand sharp (Fletcher 1964,
JASA 36:203). A line is placed by a parabola through the logarithm of a Hann window's peak (Smith &
Serra 1987, PARSHL). Strings that beat count by their power.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from trainer.ear.analysis.frames import Samples
from trainer.music.tuning import HIGHEST_A4_HZ, LOWEST_A4_HZ

WINDOW_S, STEP_S = 1.0, 0.25
"""Each window's length, and how far apart they begin: a hertz a bin, as many as agree."""
PARTIALS_OF_OTHERS = (3, 5, 7)
"""So A is in the tone of D, F and B; there the tone's own line lies below, near as strong."""
OCTAVES = range(-3, 3)
"""From A1 to A6."""
LEVEL_DB = 18.0
"""An octave's line counts where it is so near to the strongest of them."""
ABOVE_NOISE_DB = 22.0
"""A line stands so far above what lies around it: white noise stays 10 dB below that in 1 s."""
AGREE_CENTS = 4.0
"""So near together the windows' figures must lie."""
LEAST_WINDOWS = 5
"""Two seconds of the tone."""
EDGE_CENTS = 8.0
"""So far beyond 415 and 446 a line is still placed, and then left out."""

Spectrum = NDArray[np.float64]


@dataclass(frozen=True)
class _Octave:
    folded_hz: float
    """In the octave of A4."""
    hz: float
    level_db: float


def a4_of(sound: Samples, sample_rate_hz: int, semitones_from_a: int = 0) -> float | None:
    """A4 in Hz, to which the note sounding is tuned; None where none is held long and clearly.

    sound: shape (samples,), two seconds and more. semitones_from_a: of the note given, above A in
    equal temperament (0 for A, 1 for B flat).
    """
    size, step = round(WINDOW_S * sample_rate_hz), round(STEP_S * sample_rate_hz)
    shift = 2 ** (semitones_from_a / 12)
    found: list[float] = []
    for start in range(0, sound.size - size + 1, step):
        hz = _in_window(sound[start : start + size], sample_rate_hz, shift)
        if hz is not None:
            found.append(hz)
    if len(found) < LEAST_WINDOWS:
        return None
    middle = float(np.median(found))
    near = [hz for hz in found if abs(1200 * math.log2(hz / middle)) <= AGREE_CENTS]
    if len(near) < max(LEAST_WINDOWS, len(found) / 2):
        return None
    return float(np.mean(near)) if LOWEST_A4_HZ <= np.mean(near) <= HIGHEST_A4_HZ else None


def _in_window(sound: Samples, rate: int, shift: float) -> float | None:
    """A4 by one window; None without a clear line of the letter."""
    spectrum = np.abs(fft.rfft(sound * np.hanning(sound.size)))
    lines = [
        line
        for octave in OCTAVES
        if (line := _line(spectrum, rate, sound.size, shift, octave)) is not None
    ]
    if not lines:
        return None
    strongest_db = max(line.level_db for line in lines)
    lowest = min(
        (line for line in lines if line.level_db >= strongest_db - LEVEL_DB), key=lambda one: one.hz
    )
    if any(_sounds(spectrum, lowest, part, sound.size / rate) for part in PARTIALS_OF_OTHERS):
        return None
    return lowest.folded_hz


def _sounds(spectrum: Spectrum, line: _Octave, part: int, bins_per_hz: float) -> bool:
    """The line is this partial of another tone, whose first is there, or whose second is."""
    for multiple in (1, 2):
        place = round(line.hz * multiple / part * bins_per_hz)
        near = spectrum[max(0, place - 3) : place + 4]
        level_db = 20 * math.log10(max(float(near.max(initial=0.0)), 1e-12))
        if level_db >= line.level_db - LEVEL_DB:
            return True
    return False


def _line(spectrum: Spectrum, rate: int, size: int, shift: float, octave: int) -> _Octave | None:
    """The highest peak between A4 415 and 446 of one octave of the note, where it is one."""
    scale = shift * 2.0**octave
    edge = 2 ** (EDGE_CENTS / 1200)
    low = LOWEST_A4_HZ * scale / edge * size / rate
    high = HIGHEST_A4_HZ * scale * edge * size / rate
    first, last = math.floor(low), math.ceil(high) + 1
    if first < 2 or last + 2 >= spectrum.size:
        return None
    top = first + int(np.argmax(spectrum[first:last]))
    before, at, after = np.log(np.maximum(spectrum[top - 1 : top + 2], 1e-12))
    if at < before or at < after:  # the flank of a neighbour
        return None
    around = np.median(spectrum[max(0, first - 4 * (last - first)) : last + 4 * (last - first)])
    level_db = 20 * math.log10(max(spectrum[top], 1e-12))
    if level_db - 20 * math.log10(max(float(around), 1e-12)) < ABOVE_NOISE_DB:
        return None
    place = top + 0.5 * (before - after) / (before - 2 * at + after)
    hz = place * rate / size
    return _Octave(hz / scale, hz, level_db)
