"""Ports without a device: one whose clock tests move, one that keeps real time in silence."""

from __future__ import annotations

import time
from collections.abc import Callable
from threading import RLock

import numpy as np

from trainer.sound.mixer import Mixer
from trainer.sound.port import Samples, StreamFault, kept_from, moved_words
from trainer.sound.ring import Ring

BLOCK_FRAMES = 4096
LONGEST_PAUSE_S = 5.0
"""A longer stretch between two looks at the clock was a sleeping computer, not practice."""


class SimulatedPort:
    """A `SoundPort` in memory; time passes only by `advance`."""

    def __init__(
        self,
        sample_rate_hz: int = 48000,
        round_trip_frames: int = 0,
        listens: bool = True,
        bleed: float = 0.0,
        memory_s: float = 600.0,
    ) -> None:
        """Bleed is the gain at which the microphone hears what the port plays, 0 to 1."""
        self.round_trip_frames = round_trip_frames
        """Frames from playing a sample to finding it in the microphone's samples, as believed."""
        self.delay_frames = round_trip_frames
        """The same as it is."""
        self.way_out_frames = 0
        """Frames from playing a sample to its coming out of the loudspeaker."""
        self.bleed = bleed
        self.slipped = False
        self.restarts = 0
        self._sample_rate_hz = sample_rate_hz
        self._listens = listens
        self._open = True
        self._lost = False
        self._mixer = Mixer()
        self._microphone = Ring(round(memory_s * sample_rate_hz))
        self._kept_from: int | None = None
        self._played_frame = 0
        self._faults: list[StreamFault] = []
        self._sung = Mixer()
        self._played = Ring(round(memory_s * sample_rate_hz))
        self._out: Samples = np.zeros(BLOCK_FRAMES, np.float32)
        self._in: Samples = np.zeros(BLOCK_FRAMES, np.float32)

    @property
    def name(self) -> str:
        """What the student would call it."""
        return "no sound device"

    @property
    def listens(self) -> bool:
        """False when there is no microphone."""
        return self._listens

    @property
    def sample_rate_hz(self) -> int:
        """Frames per second."""
        return self._sample_rate_hz

    @property
    def alive(self) -> bool:
        """False once closed, and while the device is lost."""
        return self._open and not self._lost

    def now_frame(self) -> int:
        """Frames played so far: the only clock."""
        return self._played_frame

    def audible_frame(self) -> int:
        """The frame that comes out of the loudspeaker now."""
        return self.now_frame() - self.way_out_frames

    def heard_frame(self) -> int:
        """The microphone can be read up to this frame; behind `now_frame` by the round trip."""
        return max(0, self._microphone.end_frame - self.round_trip_frames)

    def play(self, sound: Samples, at_frame: int) -> None:
        """Mix a sound into what is played, from the given frame on; what is past is cut off."""
        self._mixer.play(sound, at_frame)

    def hush(self, from_frame: int) -> None:
        """Forget sounds that begin at or after the frame; one already sounding fades out."""
        self._mixer.hush(from_frame)

    def read(self, from_frame: int, to_frame: int) -> Samples:
        """What the microphone heard between two frames; lost or future stretches are zeros."""
        shift = self.round_trip_frames
        return self._microphone.read(from_frame + shift, to_frame + shift)

    def keep_from(self, frame: int | None) -> None:
        """Keep what the microphone hears from this frame on; None: only the last seconds."""
        self._kept_from = frame

    def lengthen_round_trip(self, by_frames: int) -> None:
        """What was played is found this much later than believed."""
        self.round_trip_frames += by_frames
        words = moved_words(by_frames, self._sample_rate_hz)
        if words is not None:
            self._faults.append(StreamFault(self._played_frame, words, lost=False))

    def restart(self) -> None:
        """Count the restart; a real device would be opened afresh."""
        self.restarts += 1
        self.slipped = False

    def faults(self) -> tuple[StreamFault, ...]:
        """Everything that went wrong so far, in order."""
        return tuple(self._faults)

    def sing(self, samples: Samples, at_frame: int) -> None:
        """Let the microphone hear the samples; at_frame is when, on this port's clock."""
        self._sung.play(samples, at_frame + self.delay_frames)

    def fall_silent(self, from_frame: int) -> None:
        """Forget what was to be sung from the frame on."""
        self._sung.hush(from_frame + self.delay_frames)

    def played(self, from_frame: int, to_frame: int) -> Samples:
        """What went to the loudspeaker; forgotten and future frames are zeros."""
        return self._played.read(from_frame, to_frame)

    def fail(self, what: str, *, moved: bool = False) -> None:
        """Note a fault at this moment, as a device would."""
        self._faults.append(StreamFault(self._played_frame, what, moved=moved))

    def lose(self, what: str) -> None:
        """Let the device be gone: the clock stands, what was scheduled is forgotten."""
        self.fail(what)
        self._lost = True
        self._mixer = Mixer()
        self._sung = Mixer()

    def come_back(self, what: str) -> None:
        """Let the device be there again; the clock goes on."""
        self._lost = False
        self._faults.append(StreamFault(self._played_frame, what, lost=False))

    def advance(self, frames: int) -> None:
        """Let the time pass; nothing moves while the port isn't alive."""
        end = self._played_frame + frames
        while self.alive and self._played_frame < end:
            self._turn(min(BLOCK_FRAMES, end - self._played_frame))

    def close(self) -> None:
        """Stop the clock; what was heard and played can still be read."""
        self._open = False

    def _turn(self, frames: int) -> None:
        first = self._played_frame
        out, heard = self._out[:frames], self._in[:frames]
        self._mixer.fill(out, first)
        self._played.write(out)
        if self._listens:
            self._sung.fill(heard, first)
            if self.bleed:
                sounded = first - self.delay_frames
                heard += self.bleed * self._played.read(sounded, sounded + frames)
        else:
            heard.fill(0.0)
        self._microphone.write(heard)
        self._microphone.forget(kept_from(self._kept_from, first, self._sample_rate_hz))
        self._played_frame = first + frames


class PacedPort(SimulatedPort):
    """A `SimulatedPort` that keeps real time: it catches up with the clock whenever it is asked."""

    def __init__(
        self,
        sample_rate_hz: int = 48000,
        round_trip_frames: int = 0,
        listens: bool = True,
        bleed: float = 0.0,
        memory_s: float = 300.0,
        clock_s: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__(sample_rate_hz, round_trip_frames, listens, bleed, memory_s)
        self._clock_s = clock_s
        self._looked_s = clock_s()
        self._owed_frames = 0.0
        self._catching_up = RLock()

    def now_frame(self) -> int:
        """Frames that would have been played by now."""
        self._catch_up()
        return super().now_frame()

    def heard_frame(self) -> int:
        """The microphone can be read up to this frame of the same clock."""
        self._catch_up()
        return super().heard_frame()

    def read(self, from_frame: int, to_frame: int) -> Samples:
        """What the microphone heard between two frames."""
        self._catch_up()
        return super().read(from_frame, to_frame)

    def _catch_up(self) -> None:
        with self._catching_up:
            now_s = self._clock_s()
            passed_s = min(now_s - self._looked_s, LONGEST_PAUSE_S)
            self._looked_s = now_s
            self._owed_frames += passed_s * self._sample_rate_hz
            whole = int(self._owed_frames)
            self._owed_frames -= whole
            self.advance(whole)
