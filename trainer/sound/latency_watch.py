"""The trainer's own click in the microphone: does it come when the port believes it does?

A stream may start a block (some 43 ms) late without any sign, headphones may be plugged in, a
device may change its mind. Where the microphone hears the loudspeaker at all, the clicks of the
count-in show the true round trip; the clicks of the round show whether it held.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.signal import butter, sosfilt

from trainer.sound.calibrate import find_sound
from trainer.sound.port import Samples, SoundPort

REACH_S = 0.25
"""A click is looked for this far from its place, but not as far as the next one."""
SPACING_SHARE = 0.45
ABOVE_HZ = 3500.0
"""The taps lie above this, most of a flute, a voice and a room's hum below it."""
FEWEST = 3
DIRECT_SHARE = 0.9
"""A tap of steady partials is like itself a few periods off: only a peak this near the highest may
be the direct sound before a reflection."""
MOST_SPREAD_S = 0.001
MOVED_S = 0.003
"""A smaller difference is left alone: the ear and the click's own ringing are no more exact."""

Click = tuple[int, Samples]
"""Its frame on the port's clock, and its sound."""


@dataclass(frozen=True)
class Lateness:
    """How late the leaked clicks are against the round trip that the port believes."""

    frames: int
    spread_frames: float
    clicks: int
    """So many agreed."""


def lateness(port: SoundPort, clicks: Sequence[Click]) -> Lateness | None:
    """What the clicks heard so far say; None when too few are heard, or they disagree."""
    found = [late for _, late in heard_clicks(port, clicks)]
    return _agreed(found, port.sample_rate_hz)


def leak_gain(port: SoundPort, clicks: Sequence[Click]) -> float | None:
    """At what gain the microphone hears the loudspeaker above ABOVE_HZ; None where it doesn't.

    The port's round trip must be right.
    """
    band = butter(4, ABOVE_HZ, "highpass", fs=port.sample_rate_hz, output="sos")
    gains = []
    for frame, _ in heard_clicks(port, clicks):
        sound = next(sound for at, sound in clicks if at == frame)
        tap = sosfilt(band, sound)
        heard = sosfilt(band, port.read(frame, frame + sound.size))
        gains.append(float(np.sqrt(np.sum(heard**2) / np.sum(tap**2))))
    return float(np.median(gains)) if len(gains) >= FEWEST else None


def heard_until(port: SoundPort, clicks: Sequence[Click]) -> int:
    """The frame that must be heard before `lateness` can look at all the clicks."""
    last_frame, sound = clicks[-1]
    return last_frame + sound.size + _reach(port, clicks)


def moved_from(port: SoundPort, clicks: Sequence[Click]) -> tuple[int, Lateness] | None:
    """From which frame on the round trip is another, and by how much; None when it held."""
    found = heard_clicks(port, clicks)
    limit = MOVED_S * port.sample_rate_hz
    still = [n for n, (_, late) in enumerate(found) if abs(late) <= limit]
    first = still[-1] + 1 if still else 0
    moved = _agreed([late for _, late in found[first:]], port.sample_rate_hz)
    if moved is None:
        return None
    return found[first][0] - _reach(port, clicks), moved


def _agreed(late_frames: Sequence[float], rate: int) -> Lateness | None:
    if len(late_frames) < FEWEST:
        return None
    median = float(np.median(late_frames))
    near = [late for late in late_frames if abs(late - median) <= MOST_SPREAD_S * rate]
    if len(near) < max(FEWEST, 0.6 * len(late_frames)):
        return None
    return Lateness(round(median), max(abs(late - median) for late in near), len(near))


def heard_clicks(port: SoundPort, clicks: Sequence[Click]) -> list[tuple[int, float]]:
    """Frame and lateness of each click that is found."""
    reach = _reach(port, clicks)
    band = butter(4, ABOVE_HZ, "highpass", fs=port.sample_rate_hz, output="sos")
    heard_frame = port.heard_frame()
    found = []
    for frame, sound in clicks:
        if frame + sound.size + reach > heard_frame:
            continue
        window = sosfilt(band, port.read(frame - reach, frame + sound.size + reach))
        tap = sosfilt(band, sound).astype(np.float32)
        at = find_sound(window.astype(np.float32), tap, DIRECT_SHARE)
        if at is not None:
            found.append((frame, at - reach))
    return found


def _reach(port: SoundPort, clicks: Sequence[Click]) -> int:
    reach = round(REACH_S * port.sample_rate_hz)
    frames = [frame for frame, _ in clicks]
    if len(frames) < 2:
        return reach
    return min(reach, int(SPACING_SHARE * np.diff(frames).min()))
