"""What is wrong with the sound itself, each a sentence with what to do."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import fft, ndimage

from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import TOP_SHARE, Frames, Samples, Track
from trainer.ear.analysis.order_statistics import medians
from trainer.ear.analysis.salience import Mask, tone_frames
from trainer.ear.microphone_limits import CLIPPED_SHARE, NOISE_BELOW_TONE_DB, TOO_SOFT_DB

CLEAR = 0.72
"""Frames as clear as this hold a tone."""
NARROW_RATE_HZ = 22050
"""A lower rate has no high band."""
LOWEST_EDGE_HZ, HIGHEST_EDGE_HZ = 3000.0, 10500.0
EDGE_DB = 25.0
"""A microphone that hears up to some frequency and no further leaves a cliff there; breath and a
room's own noise fall by far less within one kilohertz."""
LONG_ENOUGH_S = 15.0
"""Of sound that is looked at."""
LONGEST_WINDOW = 4096
"""Samples; one spectrum is taken of each."""
SEVERAL = 5
"""Different pitches, so that no single note decides."""
FLOOR_AFTER_S = (0.25, 0.5)
"""After a tone's end, where the noise is measured."""
FLOOR_BEFORE_S = 0.25
SANK_DB = 6.0
"""A room rings on after a tone; noise that is so much softer after it than before the first one
has been turned down with it."""
SILENT_DB = -115.0
"""A gate leaves nothing above this, nor does the end of a sound that was cut."""


def sound_warnings(features: Features) -> tuple[str, ...]:
    """Clipping, softness, noise, a gain that follows the playing, a narrow band; empty when all
    is well."""
    warnings = []
    frames = features.frames
    if features.clipped_share > CLIPPED_SHARE:
        warnings.append(
            "The microphone is overloaded: turn its input level down, or stand further away."
        )
    tone = tone_frames(frames, CLEAR)
    if tone.any():
        loud_db = float(np.percentile(frames.level_db[tone], 75))
        floor_db = float(np.percentile(frames.level_db, 2))
        if loud_db < TOO_SOFT_DB:
            warnings.append(
                "You are very soft here: turn the microphone's input level up, or stand nearer."
            )
        if loud_db - floor_db < NOISE_BELOW_TONE_DB and (~tone).mean() > 0.05:
            warnings.append(
                "There is much noise around you: a quieter room or a nearer microphone would help."
            )
        if _gain_follows(features, tone):
            warnings.append(
                "The microphone's gain follows your playing: switch automatic gain and noise "
                "suppression off in the sound settings; until then levels are not to be trusted."
            )
    if features.sample_rate_hz < NARROW_RATE_HZ:
        warnings.append(
            "This sound has no high frequencies (low sampling rate): starts are hard to hear."
        )
    elif _several_notes(frames, tone) and (edge_hz := _upper_edge_hz(features)) is not None:
        warnings.append(
            f"This microphone hears nothing above {edge_hz / 1000:.0f} kHz, as headsets without a "
            "wire do: starts are hard to hear. Another microphone would help."
        )
    return tuple(warnings)


def _several_notes(frames: Frames, tone: Mask) -> bool:
    """Enough of them that no single note's harmonics can look like an edge."""
    return np.unique(np.round(frames.midi[tone])).size >= SEVERAL


def _gain_follows(features: Features, tone: Mask) -> bool:
    """Whether the noise between the tones is softer than before the first of them, in all and in
    the high band: a gain turns both down; somebody else who stops playing next door was hardly
    heard up there, and a breath before the first note may be heard there alone."""
    frames, levels = features.frames, features.envelope
    edges = np.flatnonzero(np.diff(np.concatenate([[False], tone, [False]]).astype(np.int8)))
    times_s = frames.times_s
    first_s = float(times_s[edges[0]])
    if first_s < FLOOR_BEFORE_S + 0.05:
        return False
    stretches = edges.reshape(-1, 2)
    after_s = []
    for stops, begins in zip(stretches[:, 1], [*stretches[1:, 0], frames.size], strict=True):
        stops_s, next_s = (float(times_s[min(place, frames.size - 1)]) for place in (stops, begins))
        from_s, to_s = (stops_s + later_s for later_s in FLOOR_AFTER_S)
        if to_s < next_s:
            after_s.append((from_s, to_s))
    before_s = (0.05, first_s - 0.05)
    return all(
        _sinks(
            _floor_db(levels.between(level, *before_s)),
            [_floor_db(levels.between(level, *between_s)) for between_s in after_s],
        )
        for level in (levels.wide_db, levels.high_db)
    )


def _sinks(before_db: float, after_db: Sequence[float]) -> bool:
    """Whether noise is softer later, where there is any."""
    heard_db = [floor_db for floor_db in after_db if floor_db > SILENT_DB]
    if not heard_db or before_db < SILENT_DB:
        return False
    return before_db - float(np.median(heard_db)) > SANK_DB


def _floor_db(level: Track) -> float:
    return float(np.percentile(level, 25))


def _upper_edge_hz(features: Features) -> float | None:
    """Where the microphone's band ends in a cliff; None where it doesn't."""
    rate = features.sample_rate_hz
    power = _usual_power(features.samples[: round(LONG_ENOUGH_S * rate)])
    step_hz = rate / 2 / (power.size - 1)
    hz = step_hz * np.arange(power.size)
    width = max(1, round(1000.0 / step_hz))
    level_db = 10 * np.log10(ndimage.uniform_filter1d(power, width) + 1e-20)
    below = np.arange(hz.size) - width // 2 - 1
    above = np.arange(hz.size) + width // 2 + 1
    places = np.flatnonzero((hz >= LOWEST_EDGE_HZ) & (hz <= min(HIGHEST_EDGE_HZ, 0.4 * rate)))
    places = places[above[places] + width < hz.size]
    if places.size == 0:
        return None
    falls = level_db[below[places]] - level_db[above[places] + width // 2]
    steepest = places[int(falls.argmax())]
    rest_db = level_db[above[steepest] + width // 2 : round(TOP_SHARE * rate / step_hz)]
    stays_down = rest_db.size > 0 and rest_db.max() < level_db[below[steepest]] - EDGE_DB
    edge = places[int(np.argmax(falls > EDGE_DB))]
    return float(hz[edge]) if falls.max() > EDGE_DB and stays_down else None


def _usual_power(samples: Samples) -> Track:
    """Mean power of a sample in each bin, the median over windows that overlap by half (Welch 1967,
    IEEE Trans. Audio Electroacoust. 15:70), shape (bins,)."""
    size = min(LONGEST_WINDOW, samples.size)
    shape = np.hanning(size + 1)[:-1].astype(np.float32)
    cut = np.lib.stride_tricks.sliding_window_view(samples, size)[:: size // 2]
    spectra = fft.rfft(cut * shape, axis=1)
    power = medians((spectra.real**2 + spectra.imag**2).T)
    return np.asarray(power / (size * np.sum(shape**2)), np.float64)
