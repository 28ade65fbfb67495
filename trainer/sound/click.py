"""The click: short taps above the flute's strong harmonics, placed without drift.

Published flute spectra (G. Sandell, SHARC archive, after the McGill University Master Samples)
put most energy below 2 kHz in the low and middle register and below 4 kHz for the high one; the
taps are inharmonic partials above that, gone within 30 ms, so that a microphone near the flute
tells a tap from a tone. Which partials sound pleasant is common practice, no source.
"""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction

import numpy as np

from trainer.sound.port import Samples

LENGTH_S = 0.030
RISE_S = 0.0008
DECAY_S = 0.006


class Tap(StrEnum):
    """The kinds of click."""

    ACCENT = "accent"
    """The first beat of a bar."""
    BEAT = "beat"
    SUBDIVISION = "subdivision"


PARTIALS_HZ: dict[Tap, tuple[float, ...]] = {
    Tap.ACCENT: (5230.0, 7310.0),
    Tap.BEAT: (4370.0, 6130.0),
    Tap.SUBDIVISION: (4370.0,),
}
PEAKS: dict[Tap, float] = {Tap.ACCENT: 0.25, Tap.BEAT: 0.16, Tap.SUBDIVISION: 0.07}
"""Highest absolute sample, full scale 1: -12, -16 and -23 dB, well under a full-scale sound."""


def click(tap: Tap, sample_rate_hz: int, gain: float = 1.0) -> Samples:
    """One rendered tap, shape (samples,); its first sample is where the beat stands."""
    time_s = np.arange(round(LENGTH_S * sample_rate_hz)) / sample_rate_hz
    rise = 0.5 - 0.5 * np.cos(np.pi * np.minimum(time_s / RISE_S, 1.0))
    envelope = rise * np.exp(-time_s / DECAY_S) * (1.0 - time_s / LENGTH_S)
    tone = sum(np.sin(2 * np.pi * hz * time_s) for hz in PARTIALS_HZ[tap])
    sound = envelope * tone
    scaled: Samples = (sound * (gain * PEAKS[tap] / np.abs(sound).max())).astype(np.float32)
    return scaled


def beat_frame(
    first_beat_frame: int, beat: Fraction | float, tempo_bpm: float, sample_rate_hz: int
) -> int:
    """The frame nearest to a beat counted from the first, so that no rounding adds up."""
    return first_beat_frame + round(beat * 60.0 * sample_rate_hz / tempo_bpm)


def click_track(
    first_beat_frame: int,
    beats: int,
    beats_per_bar: int,
    tempo_bpm: float,
    count_in: int,
    rate: int,
    subdivisions: int = 1,
    gain: float = 1.0,
) -> list[tuple[int, Samples]]:
    """Frames and sounds of the count-in and of the beats that follow, in order.

    first_beat_frame is the first beat after the count-in. Bars are counted from there, backwards
    for the count-in. Within a beat come subdivisions - 1 soft taps (not in the count-in).
    """
    sounds = {tap: click(tap, rate, gain) for tap in Tap}
    track: list[tuple[int, Samples]] = []
    for beat in range(-count_in, beats):
        tap = Tap.BEAT if beat % beats_per_bar else Tap.ACCENT
        track.append((beat_frame(first_beat_frame, beat, tempo_bpm, rate), sounds[tap]))
        for part in range(1, subdivisions if beat >= 0 else 1):
            within = beat + part / subdivisions
            frame = beat_frame(first_beat_frame, within, tempo_bpm, rate)
            track.append((frame, sounds[Tap.SUBDIVISION]))
    return track
