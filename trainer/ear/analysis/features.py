"""What is measured of a take before any note is looked for. It grows as the sound comes in, so that
little is left to do when the round is over."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from trainer.ear.analysis.envelope import Envelope, EnvelopeStream
from trainer.ear.analysis.frames import HOP_S, WINDOW_S, Frames, Samples, Track, frames
from trainer.ear.analysis.late_ringing import (
    LAG_FRAMES,
    LOOK_BACK_FRAMES,
    falls_db_per_s,
    without_late_ringing,
)
from trainer.ear.analysis.pitch_track import PitchTrack, PitchTracker, frame_scores
from trainer.ear.analysis.room_decay import room_decay
from trainer.ear.analysis.salience import Salience, SalienceWindow, loud_db, off_grid, toned
from trainer.ear.heard import Room
from trainer.music.tuning import Tuning

HeldSpectra = tuple[NDArray[np.complex64], NDArray[np.float32]]
"""Of long windows, shape (steps + 2, bins); and powers in bands, shape (bands, steps + 2)."""

LOWEST_MIDI = 59.0
"""B3, the flute's lowest note with a B foot."""
LOWER_SEMITONES = 0.5
"""The lowest note may be played so much flat; what lies lower is no flute."""
RUMBLE_HZ = 95.0
"""Breath thumps, steps and traffic lie below; a real recording's can be as loud as its notes."""
SHORTEST_TAKE_S = 0.1
"""A shorter one is filled up with silence."""
FULL_SCALE = 0.985
STEP_FRAMES = 200
"""So many are measured at a time, a second of sound."""
BEFORE_FRAMES_S = 0.5
"""The envelope begins so much before the frames."""
GRID_FROM_S = 4.0
"""The player's own grid is known after so much tone; until then the strengths wait."""


def lowest_of(midi: Iterable[float]) -> float:
    """The lowest note that may sound where these are asked for."""
    return min([LOWEST_MIDI, *midi])


@dataclass(frozen=True)
class Features:
    """One take, or as much of it as has sounded."""

    samples: Samples
    """Without holes and rumble, shape (samples,)."""
    sample_rate_hz: int
    tuning: Tuning
    lowest_midi: float
    """Of the notes that may sound."""
    frames: Frames
    envelope: Envelope
    semitones: Track
    """MIDI numbers of the semitones on the player's own grid."""
    scores: Salience
    """How well each of them, and last of all silence, explains each frame, shape (frames,
    semitones + 1)."""
    course: PitchTrack
    """Which of them sounds when."""
    clipped_share: float
    """Of the samples as they came."""
    seen: dict[tuple[str, *tuple[int, ...]], Samples]
    """What was seen at places of the take before; kept from one look to the next."""
    levels: dict[tuple[float, float, float], tuple[Track, Track]]
    """Of the harmonics of a pitch between two times, likewise."""
    spectra: dict[tuple[int, int, int], HeldSpectra]
    """Of stretches of it, the newest few, likewise."""

    @cached_property
    def room(self) -> Room | None:
        """How the room rings on after these notes; None where none of them ends in silence."""
        return room_decay(self.frames)


class FeatureStream:
    """Measures sound as it comes in."""

    def __init__(
        self, sample_rate_hz: int, tuning: Tuning, lowest_midi: float = LOWEST_MIDI
    ) -> None:
        """lowest_midi: of the notes that may sound; what lies lower is no note."""
        self._rate = sample_rate_hz
        self._lowest_midi = lowest_midi
        self._tuning = tuning
        self._window = round(WINDOW_S * sample_rate_hz)
        self._hop = round(HOP_S * sample_rate_hz)
        sections = signal.butter(4, RUMBLE_HZ, "highpass", fs=sample_rate_hz, output="sos")
        self._filter: NDArray[np.float64] = np.asarray(sections, np.float64)
        self._filter_state = np.zeros((len(self._filter), 2))
        self._sound = _Growing()
        self._clipped = 0
        self._seen: dict[tuple[str, *tuple[int, ...]], Samples] = {}
        self._levels: dict[tuple[float, float, float], tuple[Track, Track]] = {}
        self._spectra: dict[tuple[int, int, int], HeldSpectra] = {}
        self._envelope = EnvelopeStream(sample_rate_hz)
        self._frames: list[Frames] = []
        self._frame_count = 0
        self._strength_window: SalienceWindow | None = None
        self._strengths: Salience | None = None
        self._scores: list[Salience] = []
        self._scored = 0
        self._course: PitchTracker | None = None

    @property
    def known_s(self) -> float:
        """So much from the beginning is known by now, and looked at as `recent`."""
        return self._scored * self._hop / self._rate

    def feed(self, samples: Samples) -> None:
        """Sound that follows on what was fed before, shape (samples,); NaN and infinities become
        silence."""
        if samples.size == 0:
            return
        self._clipped += int(np.count_nonzero(np.abs(samples) >= FULL_SCALE))
        whole = np.nan_to_num(samples, nan=0.0, posinf=0.0, neginf=0.0)
        clean, self._filter_state = signal.sosfilt(self._filter, whole, zi=self._filter_state)
        clean = clean.astype(np.float32)
        self._sound.add(clean)
        self._envelope.feed(clean)
        while self._measure(STEP_FRAMES):
            pass

    def recent(self, back_s: float) -> Features | None:
        """What is known by now of the last seconds, a little more than asked, to the last frame
        measured; None before the first."""
        if self._scored == 0:
            return None
        steps = 1 + int(np.ceil(back_s / HOP_S / STEP_FRAMES))
        return self._features(self._sound.all, steps)

    def finished(self) -> Features:
        """Everything, the end filled up with silence as far as it must be."""
        short = round(SHORTEST_TAKE_S * self._rate) - self._sound.size
        if short > 0:
            self.feed(np.zeros(short, np.float32))
        while self._measure(1):
            pass
        if self._strength_window is None:
            self._begin_strength()
        self._score(self._sound.all, self._frame_count, 1)
        return self._features(self._sound.all, len(self._scores))

    def _measure(self, least: int) -> bool:
        """Measure the frames that are whole by now, a step at most; False for fewer than asked."""
        first = self._frame_count * self._hop
        whole = (self._sound.size - first - self._window) // self._hop + 1
        count = min(whole, STEP_FRAMES)
        if count < least:
            return False
        stretch = self._sound.all[first : first + (count - 1) * self._hop + self._window]
        self._frames.append(frames(stretch, self._rate, self._tuning.a4_hz))
        self._frame_count += count
        window = self._strength_window
        if window is None and np.count_nonzero(toned(self._all_frames())) * HOP_S >= GRID_FROM_S:
            window = self._begin_strength()
        if window is not None:
            sound = self._sound.all
            ready = (sound.size - window.size - window.begins(0)) // self._hop + 1
            self._score(sound, min(ready, self._frame_count), STEP_FRAMES)
        return True

    def _begin_strength(self) -> SalienceWindow:
        shift = off_grid(self._all_frames())
        window = SalienceWindow(self._rate, self._tuning.a4_hz, shift, self._lowest_midi)
        self._strength_window = window
        self._course = PitchTracker(window.semitones)
        return window

    def _score(self, sound: Samples, end: int, least: int) -> None:
        """Score the frames up to an end in steps, the last of them at least so long; the steps are
        the same however the sound came in."""
        window, course = self._strength_window, self._course
        while window is not None and course is not None and end - self._scored >= least:
            stop = min(end, self._scored + STEP_FRAMES)
            everything = self._all_frames()
            strong = window.strength(sound, self._scored, stop)
            scores = frame_scores(
                everything.part(self._scored, stop),
                strong,
                self._without_ringing(strong),
                window.semitones,
                loud_db(everything.part(0, stop)),
            )
            self._scores.append(scores)
            course.feed(scores)
            self._scored = stop

    def _without_ringing(self, strong: Salience) -> Salience:
        """The strengths of the frames that follow, less what the room keeps of the notes before."""
        before = strong[:0] if self._strengths is None else self._strengths
        self._strengths = np.concatenate([before, strong])[-LOOK_BACK_FRAMES:]
        falls = falls_db_per_s(self._strengths)
        return without_late_ringing(strong, before[-LAG_FRAMES:], falls)

    def _features(self, sound: Samples, steps: int) -> Features:
        """From the last steps that were scored on."""
        window = self._strength_window
        assert window is not None
        assert self._course is not None
        scores = np.concatenate(self._scores[-steps:])
        first = self._scored - len(scores)
        since_s = first * self._hop / self._rate - BEFORE_FRAMES_S
        return Features(
            samples=sound,
            sample_rate_hz=self._rate,
            tuning=self._tuning,
            lowest_midi=self._lowest_midi,
            frames=self._all_frames().part(first, self._scored),
            envelope=self._envelope.since(since_s),
            semitones=window.semitones,
            scores=scores,
            course=self._course.last(steps),
            clipped_share=self._clipped / max(1, sound.size),
            seen=self._seen,
            levels=self._levels,
            spectra=self._spectra,
        )

    def _all_frames(self) -> Frames:
        if len(self._frames) > 1:
            self._frames = [_joined(self._frames)]
        return self._frames[0]


def _joined(parts: list[Frames]) -> Frames:
    return Frames(
        hop_s=parts[0].hop_s,
        first_s=parts[0].first_s,
        midi=np.concatenate([part.midi for part in parts]),
        clarity=np.concatenate([part.clarity for part in parts]),
        level_db=np.concatenate([part.level_db for part in parts]),
    )


class _Growing:
    """An array that grows at its end."""

    def __init__(self) -> None:
        self._room = np.zeros(1 << 16, np.float32)
        self.size = 0

    @property
    def all(self) -> Samples:
        """What was added so far."""
        return self._room[: self.size]

    def add(self, samples: Samples) -> None:
        """Add at the end."""
        needed = self.size + samples.size
        if needed > self._room.size:
            larger = np.zeros(max(needed, 2 * self._room.size), np.float32)
            larger[: self.size] = self.all
            self._room = larger
        self._room[self.size : needed] = samples
        self.size = needed
