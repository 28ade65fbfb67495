"""Is the microphone honest? Quiet, a soft note, a loud one and quiet again tell.

Our own estimates throughout, worked out on simulated microphones: levels in dB re full scale,
never sound pressure.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy.signal import welch

from trainer.sound.port import Samples

Levels = NDArray[np.float64]

FRAME_S = 0.02
"""Levels are taken over stretches of this."""
LOWEST_DB = -120.0
"""Nothing is lower."""
DEAD_PEAK = 1e-5
"""A live microphone's own noise is higher."""
FULL_SCALE = 0.985
HEARD_ABOVE_DB = 10.0
"""A note stands so far above the room."""
PUMPED_DB = 6.0
"""Gain that rises in a silence raises the noise by so much."""
ALIKE_DB = 3.0
"""Soft and loud come in as loud as each other."""
SINKS_DB = 4.0
"""... and the loud note sinks after its beginning."""
BROKEN_DB = 20.0
"""A soft note that falls so far within itself is cut in pieces."""
BROKEN_SHARE = 0.08
"""Of its frames."""
ZERO_SHARE = 0.2
"""Of its samples that are nothing at all."""
HIGH_HZ = (5000.0, 10_000.0)
"""Where a voice channel has nothing and a flute's breath has much."""
MIDDLE_HZ = (1000.0, 3000.0)
NARROW_DB = -30.0
"""Where the room's own noise has so much less above 5 kHz than below 3 kHz, something cuts it."""
NARROW_TONE_DB = -65.0
"""... and the note itself has less than this there."""


class Finding(StrEnum):
    """What is wrong with the sound that comes in."""

    DEAD = "dead"
    NOTHING_HEARD = "nothing heard"
    TOO_SOFT = "too soft"
    CLIPPING = "clipping"
    NOISE = "noise"
    GAIN_RIDES = "gain rides"
    SOFT_IS_EATEN = "soft is eaten"
    NARROW = "narrow"
    LIVE_ROOM = "live room"
    """Found in the short notes, by who hears them."""


WHAT_TO_DO: dict[Finding, str] = {
    Finding.DEAD: (
        "The microphone gives no sound at all: is it plugged in, not muted, and allowed to this "
        "terminal?"
    ),
    Finding.NOTHING_HEARD: (
        "No note was heard above the room: see that the right microphone is chosen (`trainer "
        "devices`), and turn its input level up."
    ),
    Finding.TOO_SOFT: "You come in very soft: turn the input level up, or stand nearer.",
    Finding.CLIPPING: "Loud notes are cut off: turn the input level down, or stand further away.",
    Finding.NOISE: (
        "The room is nearly as loud as your soft notes: a quieter room or a nearer microphone "
        "would help."
    ),
    Finding.GAIN_RIDES: (
        "The system rides the input level, so that loud and soft can't be told apart: turn "
        "'automatic gain' or 'voice enhancement' off in the system's sound settings."
    ),
    Finding.SOFT_IS_EATEN: (
        "Soft sound is swallowed: turn 'noise suppression' or 'voice isolation' off in the "
        "system's sound settings."
    ),
    Finding.NARROW: (
        "The microphone hears nothing high, as a telephone does, so that starts of notes are hard "
        "to hear: a headset on Bluetooth does that; use another microphone."
    ),
    Finding.LIVE_ROOM: (
        "This room rings on so long that many starts of notes can't be judged here; notes and "
        "tuning can. A nearer microphone, a curtain or a softer room helps."
    ),
}


@dataclass(frozen=True)
class Limits:
    """From where on something is wrong; `trainer.ear.microphone_limits` says why."""

    too_soft_db: float
    """A loud note softer than this."""
    clipped_share: float
    """More samples than this at full scale."""
    noise_below_tone_db: float
    """Noise no further below a soft note than this."""


@dataclass(frozen=True)
class Passages:
    """What the microphone gave while the player was silent, soft, loud, and silent again."""

    quiet: Samples
    soft: Samples
    """Empty where no note was heard in it."""
    loud: Samples
    """Empty where no note was heard in it."""
    after: Samples
    sample_rate_hz: int


def findings(heard: Passages, limits: Limits) -> tuple[Finding, ...]:
    """What is wrong, the worst first; empty when all is well."""
    rate = heard.sample_rate_hz
    everything = np.concatenate([heard.quiet, heard.soft, heard.loud, heard.after])
    if not everything.size or np.abs(everything).max() < DEAD_PEAK:
        return (Finding.DEAD,)
    quiet, soft, loud, after = (
        levels_db(part, rate) for part in (heard.quiet, heard.soft, heard.loud, heard.after)
    )
    floor_db, soft_db, loud_db = float(np.median(quiet)), tone_db(soft), tone_db(loud)
    if loud_db - floor_db < HEARD_ABOVE_DB:
        return (Finding.NOTHING_HEARD,)
    eaten = _is_eaten(heard, soft, soft_db, floor_db)
    clipped_share = float(np.mean(np.abs(heard.loud) >= FULL_SCALE))
    checks = (
        (Finding.CLIPPING, clipped_share > limits.clipped_share),
        (Finding.SOFT_IS_EATEN, eaten),
        (Finding.GAIN_RIDES, not eaten and _gain_rides(loud, after, floor_db, loud_db - soft_db)),
        (Finding.TOO_SOFT, loud_db < limits.too_soft_db),
        (Finding.NOISE, not eaten and soft_db - floor_db < limits.noise_below_tone_db),
        (Finding.NARROW, _is_narrow(heard)),
    )
    return tuple(finding for finding, found in checks if found)


def levels_db(samples: Samples, sample_rate_hz: int) -> Levels:
    """RMS level of each 20 ms, dB re full scale."""
    size = round(FRAME_S * sample_rate_hz)
    count = samples.size // size
    power = np.mean(samples[: count * size].reshape(count, size).astype(np.float64) ** 2, axis=1)
    return np.asarray(10 * np.log10(power + 10 ** (LOWEST_DB / 10)))


def tone_db(levels: Levels) -> float:
    """The level of what sounds in a passage that begins and ends when the player is ready."""
    return float(np.percentile(levels, 75)) if levels.size else LOWEST_DB


def _is_eaten(heard: Passages, soft: Levels, soft_db: float, floor_db: float) -> bool:
    """The soft note breaks up or is not there, or the room's noise is cut to nothing."""
    sounding = np.flatnonzero(soft > soft_db - BROKEN_DB / 2)
    inside = soft[sounding[0] : sounding[-1] + 1] if sounding.size else soft
    broken = float(np.mean(inside < soft_db - BROKEN_DB)) if inside.size else 0.0
    noise = np.concatenate([heard.quiet, heard.after])
    zeros = float(np.mean(noise == 0.0)) if noise.size else 0.0
    missing = soft_db - floor_db < HEARD_ABOVE_DB / 2
    return broken > BROKEN_SHARE or zeros > ZERO_SHARE or (missing and zeros > 0.0)


def _gain_rides(loud: Levels, after: Levels, floor_db: float, contrast_db: float) -> bool:
    """The room's noise comes up after a loud note, or the note itself is turned down."""
    early_db = float(np.median(after[len(after) // 10 : len(after) // 3]))
    late_db = float(np.median(after[-len(after) // 3 :]))
    pumped = late_db - early_db > PUMPED_DB or floor_db - early_db > PUMPED_DB
    tone = loud[loud > tone_db(loud) - BROKEN_DB / 2]
    begin, end = tone[: len(tone) // 6], tone[-len(tone) // 3 :]
    sinks = bool(begin.size) and float(np.median(begin) - np.median(end)) > SINKS_DB
    return pumped or (contrast_db < ALIKE_DB and sinks)


def _is_narrow(heard: Passages) -> bool:
    """Neither the room's noise nor the loud note has anything above 5 kHz."""
    room = np.concatenate([heard.quiet, heard.after])
    noise_db = _band_db(room, heard.sample_rate_hz, HIGH_HZ) - _band_db(
        room, heard.sample_rate_hz, MIDDLE_HZ
    )
    whole_hz = (100.0, HIGH_HZ[1])
    tone_db = _band_db(heard.loud, heard.sample_rate_hz, HIGH_HZ) - _band_db(
        heard.loud, heard.sample_rate_hz, whole_hz
    )
    return noise_db < NARROW_DB and tone_db < NARROW_TONE_DB


def _band_db(samples: Samples, rate: int, band_hz: tuple[float, float]) -> float:
    """Mean power density in a band, dB."""
    hz, density = welch(samples, rate, nperseg=4096)
    inside = (hz >= band_hz[0]) & (hz < min(band_hz[1], 0.45 * rate))
    return float(10 * np.log10(np.mean(density[inside]) + 1e-20))
