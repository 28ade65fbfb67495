"""The click: short taps outside the flute's strong harmonics, placed without drift.

Published flute spectra (G. Sandell, SHARC archive, after the McGill University Master Samples)
put most energy below 2 kHz in the low and middle register and below 4 kHz for the high one. The
taps lie above that, or below the flute's lowest note (B3, 247 Hz), and are gone within 0.1 s, so
that a microphone near the flute tells a tap from a tone. Which sound pleasant is common practice,
no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

import numpy as np
from scipy.signal import butter, sosfilt

from trainer.music.bars import Bars
from trainer.music.pulse import PLAIN_CLICK, ClickPart, Pace, Timbre
from trainer.sound.port import Samples


class Tap(StrEnum):
    """The kinds of click."""

    ACCENT = "accent"
    """The first beat of a bar."""
    BEAT = "beat"
    SUBDIVISION = "subdivision"


@dataclass(frozen=True)
class _Voice:
    """How one timbre is made."""

    partials_hz: dict[Tap, tuple[float, ...]]
    """Inharmonic; for a hiss, the edges of its band."""
    length_s: float
    decay_s: float
    rise_s: float = 0.0008
    hiss: bool = False


VOICES: dict[Timbre, _Voice] = {
    Timbre.TICK: _Voice(
        {
            Tap.ACCENT: (5230.0, 7310.0),
            Tap.BEAT: (4370.0, 6130.0),
            Tap.SUBDIVISION: (4370.0,),
        },
        length_s=0.030,
        decay_s=0.006,
    ),
    Timbre.GLASS: _Voice(
        {
            Tap.ACCENT: (6270.0, 9410.0),
            Tap.BEAT: (5490.0, 8230.0),
            Tap.SUBDIVISION: (5490.0,),
        },
        length_s=0.080,
        decay_s=0.018,
    ),
    Timbre.BRUSH: _Voice(
        {
            Tap.ACCENT: (5000.0, 11_000.0),
            Tap.BEAT: (6500.0, 11_000.0),
            Tap.SUBDIVISION: (8000.0, 11_000.0),
        },
        length_s=0.040,
        decay_s=0.008,
        hiss=True,
    ),
    Timbre.KNOCK: _Voice(
        {
            Tap.ACCENT: (113.0, 167.0),
            Tap.BEAT: (91.0, 139.0),
            Tap.SUBDIVISION: (91.0,),
        },
        length_s=0.090,
        decay_s=0.022,
        rise_s=0.004,
    ),
}
PEAKS: dict[Tap, float] = {Tap.ACCENT: 0.25, Tap.BEAT: 0.16, Tap.SUBDIVISION: 0.07}
"""Highest absolute sample, full scale 1: -12, -16 and -23 dB, well under a full-scale sound."""
HISS_SEED = 4
"""The same hiss in every click."""


def click(
    tap: Tap, sample_rate_hz: int, gain: float = 1.0, timbre: Timbre = Timbre.TICK
) -> Samples:
    """One rendered tap, shape (samples,); its first sample is where the beat stands."""
    voice = VOICES[timbre]
    time_s = np.arange(round(voice.length_s * sample_rate_hz)) / sample_rate_hz
    rise = 0.5 - 0.5 * np.cos(np.pi * np.minimum(time_s / voice.rise_s, 1.0))
    envelope = rise * np.exp(-time_s / voice.decay_s) * (1.0 - time_s / voice.length_s)
    if voice.hiss:
        noise = np.random.default_rng(HISS_SEED).uniform(-1.0, 1.0, time_s.size)
        band = butter(4, voice.partials_hz[tap], "bandpass", fs=sample_rate_hz, output="sos")
        tone = sosfilt(band, noise)
    else:
        tone = np.sum([np.sin(2 * np.pi * hz * time_s) for hz in voice.partials_hz[tap]], axis=0)
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
    beats: Fraction | int,
    bars: Bars,
    pace: Pace,
    count_in: int,
    rate: int,
    part: ClickPart = PLAIN_CLICK,
) -> list[tuple[int, Samples]]:
    """Frames and sounds of the count-in and of the beats that follow, in order.

    first_beat_frame is the first beat after the count-in. Bars are counted from there, backwards
    for the count-in, which knows neither subdivisions nor silent bars.
    """
    gain = 10.0 ** (part.level_db / 20.0)
    sounds = {tap: click(tap, rate, gain, part.timbre) for tap in Tap}
    track: list[tuple[int, Samples]] = []
    place = Fraction(-count_in)
    while place < beats:
        bar = bars.at(place)
        after = min(place + bar.beat, bar.ends)
        if part.sounds_in(bar.number):
            tap = Tap.ACCENT if place == bar.begins else Tap.BEAT
            for step in range(part.subdivisions if place >= 0 else 1):
                place_s = pace.seconds_at(float(place + bar.beat * step / part.subdivisions))
                frame = first_beat_frame + round(place_s * rate)
                track.append((frame, sounds[Tap.SUBDIVISION if step else tap]))
        place = after
    return track
