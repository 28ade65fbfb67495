"""Two devices, two clocks: what one hears, brought onto the other's frames.

Two sound cards that both say 48000 differ by some tens of parts in a million: 0.1 s in an hour.
Each clock is followed by a straight line through the times of its last callbacks; the samples are
read at the place that the two lines say, between samples by a windowed sinc.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable

import numpy as np

from trainer.sound.port import Samples
from trainer.sound.ring import Ring

POINT_S = 0.25
"""The callbacks of so long make one point: their lateness averages out."""
POINTS = 160
DOUBT = (0.4e-3 / 60e-6) ** 2
"""Square of a point's scatter (0.4 ms, our own estimate) over how far a card's clock is usually
off (60 in a million): so long the nominal rate weighs against the fitted one, in s²."""
SETTLE_S = 0.4
MARGIN_S = 0.03
"""Callbacks may come this much late before samples are wanting."""
STEER_S = 5.0
MOST_STEER = 100e-6
"""A wrong place is mended over STEER_S, never by more than 0.17 cents of pitch."""
SLIP_S = 0.03
"""A place wrong by more has slipped, and is put right at once."""
REMEMBERED_S = 4.0
"""Of what the other device heard."""
TAPS = 32
"""Samples that a windowed sinc reaches over."""
PHASES = 1024
"""Fractions of a sample that are told apart."""
KAISER_BETA = 9.0
"""Side lobes some 90 dB down (Kaiser 1974, IEEE ISCAS, from memory)."""


class Timeline:
    """Frames against time for one device, smoothed over the lateness of its callbacks."""

    def __init__(self, rate_hz: float) -> None:
        self.frame_s = 1.0 / rate_hz
        """Seconds a frame, as fitted so far."""
        self._nominal_s = 1.0 / rate_hz
        self._points: deque[tuple[float, float]] = deque(maxlen=POINTS)
        self._gathered: list[tuple[int, float]] = []
        self._frame, self._time_s = 0.0, math.nan

    @property
    def begun(self) -> bool:
        """True once it has seen a callback."""
        return not math.isnan(self._time_s)

    def follow(self, frame: int, now_s: float) -> None:
        """The device stands at this frame now."""
        self._gathered.append((frame, now_s))
        if self._points and now_s - self._gathered[0][1] < POINT_S:
            return
        frames, times_s = zip(*self._gathered, strict=True)
        self._points.append((sum(frames) / len(frames), sum(times_s) / len(times_s)))
        self._gathered.clear()
        self._fit()

    def _fit(self) -> None:
        frames, times_s = np.array(self._points).T
        self._frame, self._time_s = float(frames.mean()), float(times_s.mean())
        nominal_s = (frames - self._frame) * self._nominal_s
        off_s = times_s - self._time_s - nominal_s
        off = float(nominal_s @ off_s) / (float(nominal_s @ nominal_s) + DOUBT)
        self.frame_s = self._nominal_s * (1.0 + off)

    def frame_at(self, time_s: float) -> float:
        """The frame the device stands at then."""
        return self._frame + (time_s - self._time_s) / self.frame_s

    def time_at(self, frame: float) -> float:
        """When the device stands at the frame."""
        return self._time_s + (frame - self._frame) * self.frame_s


class Crossing:
    """The microphone's samples, one for each frame of the loudspeaker."""

    def __init__(self, from_rate_hz: int, to_rate_hz: int, clock_s: Callable[[], float]) -> None:
        self.delay_s = MARGIN_S
        """How long samples wait, set once both devices have shown the size of their blocks."""
        self.slips = 0
        self._clock_s = clock_s
        self._from_rate_hz = from_rate_hz
        self._heard = Ring(round(REMEMBERED_S * from_rate_hz))
        self._from, self._to = Timeline(from_rate_hz), Timeline(to_rate_hz)
        self._to_frame = 0
        self._place: float | None = None
        self._first_s: float | None = None
        self._longest_in_s = self._longest_out_s = 0.0
        self._sincs = _sincs()

    def write(self, heard: Samples) -> None:
        """What the microphone heard, as its callback brings it."""
        self._heard.write(heard)
        self._longest_in_s = max(self._longest_in_s, heard.size * self._from.frame_s)
        self._from.follow(self._heard.end_frame, self._clock_s())

    def crossed(self, frames: int) -> Samples:
        """The samples for the loudspeaker's next frames, shape (frames, 1); zeros at first."""
        now_s = self._clock_s()
        self._to.follow(self._to_frame, now_s)
        self._longest_out_s = max(self._longest_out_s, frames * self._to.frame_s)
        first_frame, self._to_frame = self._to_frame, self._to_frame + frames
        if self._first_s is None and self._from.begun:
            self._first_s = now_s
        if self._first_s is None or now_s - self._first_s < SETTLE_S:
            return np.zeros((frames, 1), np.float32)
        if self._place is None:
            self.delay_s = self._longest_in_s + self._longest_out_s + MARGIN_S
            self._place = self._target(first_frame)
        steps = self._steps(first_frame)
        places = self._place + steps * np.arange(frames)
        self._place += steps * frames
        return self._between(places)[:, None]

    def _target(self, to_frame: int) -> float:
        """Where the samples of this loudspeaker frame lie in the microphone's."""
        return self._from.frame_at(self._to.time_at(to_frame) - self.delay_s)

    def _steps(self, first_frame: int) -> float:
        """Microphone frames for each loudspeaker frame, steered gently towards the target."""
        assert self._place is not None
        wrong = self._target(first_frame) - self._place
        if abs(wrong) > SLIP_S * self._from_rate_hz:
            self.slips += 1
            self._place += wrong
            wrong = 0.0
        steer = wrong / (STEER_S * self._from_rate_hz)
        ratio = self._to.frame_s / self._from.frame_s
        return ratio * (1.0 + max(-MOST_STEER, min(MOST_STEER, steer)))

    def _between(self, places: np.ndarray) -> Samples:
        whole = np.floor(places)
        phases = np.round((places - whole) * PHASES).astype(np.int64)
        first = int(whole[0]) - TAPS // 2 + 1
        heard = self._heard.read(first, int(whole[-1]) + TAPS // 2 + 1)
        windows = np.lib.stride_tricks.sliding_window_view(heard, TAPS)
        starts = whole.astype(np.int64) - int(whole[0])
        between = np.einsum("ij,ij->i", windows[starts], self._sincs[phases])
        return np.asarray(between, np.float32)


def _sincs() -> np.ndarray:
    """One windowed sinc for each fraction of a sample, shape (PHASES + 1, TAPS)."""
    distance = np.arange(TAPS)[None] - (TAPS // 2 - 1) - np.arange(PHASES + 1)[:, None] / PHASES
    inside = np.clip(1.0 - (distance / (TAPS / 2)) ** 2, 0.0, None)
    window = np.i0(KAISER_BETA * np.sqrt(inside)) / np.i0(KAISER_BETA)
    return np.asarray(np.sinc(distance) * window, np.float32)
