"""Where A4 stands in this room: somebody gives a note, on a piano, an oboe, a fork, an organ.

The lines of the note's own letter are looked for, each folded into the octave of A4 415 to 446 Hz:
which octave was struck, and the other notes of a chord on it, don't matter. A flute's A4 beats with
the line in its own octave, so that one is taken where it is near as strong as the others, else the
lowest: a piano's partials lie the sharper the higher they are (Fletcher 1964, JASA 36:203). A
line's place is the centre of gravity of its power, and what is loud counts more than what has died
away: strings that beat count by their power, and a vibrato by its middle. Where many play one note
the middle itself wanders: how far is said beside it.
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
NOISE_PEAK_DB = 14.0
"""No few bins of white noise reach so far above the middle of what lies around them."""
AROUND = 40
"""So many bins to either side lie around a line."""
AGREE_CENTS = 12.0
"""A window whose figure lies further from the middle one heard something else."""
LOOKS_PER_S = 1.5
"""Overlapping Hann windows of a second are worth so many separate ones (their noise bandwidth:
Harris 1978, Proc. IEEE 66:51)."""
LEAST_WINDOWS = 5
"""Two seconds of the tone."""
LINE_CENTS = 35.0
"""A line with its beating strings and its vibrato lies within so much of its middle."""
SETTLES, SETTLED_BINS = 8, 0.02
"""From the peak to the middle it is stepped so often at most, or until it stands."""
LEAST_BINS = 3
"""The window's own width, from the peak to either side."""
EDGE_CENTS = 8.0
"""So far beyond 415 and 446 a line is still placed, and then left out."""

Spectrum = NDArray[np.float64]


@dataclass(frozen=True)
class HeardA:
    """Where A4 stands."""

    a4_hz: float
    within_hz: float
    """Twice the standard error: nineteen times in twenty it lies so near, in the sound that was
    heard; a room that rings may bend it further."""


@dataclass(frozen=True)
class _Octave:
    octave: int
    """0 for A4's own, where the letter is A."""
    folded_hz: float
    """In the octave of A4."""
    hz: float
    level_db: float


def a4_of(sound: Samples, sample_rate_hz: int, semitones_from_a: int = 0) -> HeardA | None:
    """The A4 to which the note sounding is tuned; None where none is held long and clearly.

    sound: shape (samples,), two seconds and more. semitones_from_a: of the note given, above A in
    equal temperament (0 for A, 1 for B flat).
    """
    size, step = round(WINDOW_S * sample_rate_hz), round(STEP_S * sample_rate_hz)
    shift = 2 ** (semitones_from_a / 12)
    lines = [
        line
        for start in range(0, sound.size - size + 1, step)
        if (line := _in_window(sound[start : start + size], sample_rate_hz, shift)) is not None
    ]
    if len(lines) < LEAST_WINDOWS:
        return None
    middle = float(np.median([line.folded_hz for line in lines]))
    near = [one for one in lines if abs(1200 * math.log2(one.folded_hz / middle)) <= AGREE_CENTS]
    if len(near) < max(LEAST_WINDOWS, len(lines) / 2):
        return None
    powers = [10 ** (line.level_db / 10) for line in near]
    folded_hz = np.array([line.folded_hz for line in near])
    a4_hz = float(np.average(folded_hz, weights=powers))
    if not LOWEST_A4_HZ <= a4_hz <= HIGHEST_A4_HZ:
        return None
    variance = float(np.average((folded_hz - a4_hz) ** 2, weights=powers))
    return HeardA(a4_hz, 2 * math.sqrt(variance / (LOOKS_PER_S * STEP_S * len(near))))


def _in_window(sound: Samples, rate: int, shift: float) -> _Octave | None:
    """What one window says of A4; None without a clear line of the letter."""
    spectrum = np.abs(fft.rfft(sound * np.hanning(sound.size)))
    lines = [
        line
        for octave in OCTAVES
        if (line := _line(spectrum, rate, sound.size, shift, octave)) is not None
    ]
    if not lines:
        return None
    strongest_db = max(line.level_db for line in lines)
    strong = [line for line in lines if line.level_db >= strongest_db - LEVEL_DB]
    chosen = next((line for line in strong if line.octave == 0), strong[0])
    if any(_sounds(spectrum, chosen, part, sound.size / rate) for part in PARTIALS_OF_OTHERS):
        return None
    return chosen


def _sounds(spectrum: Spectrum, line: _Octave, part: int, bins_per_hz: float) -> bool:
    """The line is this partial of another tone, whose first is there, or whose second is."""
    for multiple in (1, 2):
        place = round(line.hz * multiple / part * bins_per_hz)
        near = spectrum[max(0, place - 3) : place + 4]
        level_db = _db(near.max(initial=0.0))
        above_db = level_db - _db(np.median(spectrum[max(0, place - AROUND) : place + AROUND]))
        if level_db >= line.level_db - LEVEL_DB and above_db >= NOISE_PEAK_DB:
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
    level_db = _db(spectrum[top])
    if level_db - _db(around) < ABOVE_NOISE_DB:
        return None
    hz = _centre(spectrum, top) * rate / size
    return _Octave(octave, hz / scale, hz, level_db)


def _db(amplitude: float) -> float:
    return 20 * math.log10(max(float(amplitude), 1e-12))


def _centre(spectrum: Spectrum, top: int) -> float:
    """The centre of gravity of the power around a peak, in bins; taken around itself in the end,
    since where many play the highest peak may stand at the line's edge."""
    middle = float(top)
    for _ in range(SETTLES):
        reach = max(LEAST_BINS, middle * (2 ** (LINE_CENTS / 1200) - 1))
        first, last = math.ceil(middle - reach), math.floor(middle + reach)
        bins = np.arange(max(0, first), min(spectrum.size, last + 1))
        before, middle = middle, float(np.average(bins, weights=spectrum[bins] ** 2))
        if abs(middle - before) < SETTLED_BINS:
            break
    return middle
