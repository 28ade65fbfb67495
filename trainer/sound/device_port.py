"""The computer's own devices as a `SoundPort`: an engine kept running, and replaced at need.

When the device is lost, the sound server restarted, the machine put to sleep or a stream has
slipped, the engine is ended and a new one opens whatever device there is now. The clock stands
meanwhile and goes on from the same frame.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path
from threading import Lock, Thread

from trainer.errors import SoundError
from trainer.sound.board import new_board_memory, shared_board
from trainer.sound.engine import Engine, Hush, Launch, OpenedStream, Play, Refused, RunningEngine
from trainer.sound.level_check import WHAT_TO_DO, Finding
from trainer.sound.port import Samples, StreamFault, kept_from, moved_words
from trainer.sound.process import refuse_system_without_sound
from trainer.sound.silent_stream import SilentStream
from trainer.sound.stream import WAY_MOVED, Wanted, fault_words

MEMORY_S = 300.0
"""The longest round that can be kept."""
MOST_RATE_HZ = 48000
"""The board is made for this before the device's own rate is known."""
LOST_AFTER_S = 0.8
"""Without a callback for so long the device is lost; a busy machine's longest gap was 0.2 s."""
LOOK_S = 0.1
DEAF_S = 3.0
"""A microphone that works is never silent to the last digit for so long."""
STOOD_STILL_S = 1.5
"""A longer time between two looks: the computer slept, or this program was stopped."""
OPEN_LIMIT_S = 6.0
TURN_LOOKS, TURN_LOOK_S = 100, 0.02
"""A stream that was opened turns within two seconds."""
RETRY_S = 1.0
PROBE_S = 4.0
"""While practice goes on in silence, a device is looked for this often."""
SILENT_AFTER_S = 8.0
"""A device gone for so long: practice may go on without."""
PROBE_FRAMES = 48000
"""A second of memory is enough to see what a device can do."""

LOST_WORDS = (
    "The sound device stopped answering; what you played is kept. Plug it in, or choose another."
)
SLEPT_WORDS = "The computer stopped for a while; what you played is kept."
HANGS_WORDS = "The sound system doesn't answer: restart it, or the computer, and try again."
CLOSED_WORDS = "The sound was closed already."
NAMELESS = ("default", "pulse", "pipewire")
"""Devices that stand for whatever the system has chosen."""
BACK_WORDS = "The sound is back: {name}."
HEARD_WORDS = "Your microphone is heard now."
CHANNEL_WORDS = "Your microphone speaks on its other channel: that one is listened to."
SILENT_WORDS = "{why} Until then practice goes on without sound."

MeasuredDelay = Callable[[str, int], float | None]
"""Devices' name and rate → the round trip once measured for them, in frames."""


class DevicePort:
    """A `SoundPort` on the computer's own devices; `open_port` opens one and watches it.

    Reads are moved by `round_trip_frames`; as long as `assumed` is True that is only what the
    devices report about themselves. A stream may also start a block late without any flag (with
    PulseAudio by 43 ms in 2 of 92 starts), so that a delay measured in another start is a guess.
    """

    def __init__(
        self,
        wanted: Wanted | None = None,
        *,
        log_path: Path | None = None,
        measured: MeasuredDelay = lambda _name, _rate_hz: None,
        launch: Launch = Engine,
        clock_s: Callable[[], float] = time.monotonic,
        memory_s: float = MEMORY_S,
    ) -> None:
        """Make the port without its device; `start` opens that."""
        self.round_trip_frames = 0
        """Frames from playing a sample to finding it in the microphone's samples."""
        self.assumed = True
        """True until the round trip of this pair of devices has been measured."""
        self._wanted = wanted or Wanted()
        self._log_path = log_path
        self._measured = measured
        self._launch = launch
        self._clock_s = clock_s
        self._memory: int | None = new_board_memory(round(memory_s * MOST_RATE_HZ))
        self._board = shared_board(self._memory)
        self._kept_from: int | None = None
        self._engine: RunningEngine | None = None
        self._opened: OpenedStream | None = None
        self._opening: RunningEngine | None = None
        self._opened_s = clock_s()
        self._changing = Lock()
        self._faults: list[StreamFault] = []
        self._faults_read = 0
        self._noting = Lock()
        self._slipped = False
        self._lost = False
        self._lost_s = 0.0
        self._silent_after_s = 0.0
        self._silent = False
        self._channel_told = 0
        self._opened_frame = 0
        self._looked_into = False
        self._deaf = False
        self._restart_wanted = False
        self._closed = False
        self._looked_s = clock_s()
        self._retry_s = clock_s()

    # What the session reads and says

    @property
    def name(self) -> str:
        """The device, or both devices, by their own names."""
        return "no sound device" if self._opened is None else self._opened.name

    @property
    def listens(self) -> bool:
        """False when there is no microphone; True as long as nobody knows."""
        return self._opened is None or self._opened.listens

    @property
    def sample_rate_hz(self) -> int:
        """Frames per second; the next device may have another."""
        return self._wanted.sample_rate_hz if self._opened is None else self._opened.sample_rate_hz

    @property
    def alive(self) -> bool:
        """False while the device is gone or being restarted, and when closed."""
        return self._engine is not None and not self._restart_wanted and not self._closed

    @property
    def closed(self) -> bool:
        """True once `close` was called."""
        return self._closed

    @property
    def slipped(self) -> bool:
        """True since the stream faltered, until it is restarted."""
        self._read_faults()
        return self._slipped

    @property
    def longest_gap_s(self) -> float:
        """The longest time between two turns of the present stream."""
        return self._board.longest_gap_s

    def now_frame(self) -> int:
        """Frames played so far: the only clock. It moves by the device's blocks."""
        return self._board.played_frame

    def audible_frame(self) -> int:
        """The frame that comes out of the loudspeaker now, between the turns too.

        The way out's share of the round trip is what the device reports of both ways.
        """
        since_s = max(0.0, self._clock_s() - self._board.turned_s) if self.alive else 0.0
        passed = min(since_s, LOST_AFTER_S) * self.sample_rate_hz
        return round(self._board.played_frame + passed) - self._way_out_frames()

    def heard_frame(self) -> int:
        """The microphone can be read up to this frame."""
        return max(0, self._board.microphone.end_frame - self.round_trip_frames)

    def play(self, sound: Samples, at_frame: int) -> None:
        """Mix a sound into what is played, from the given frame on; what is past is cut off."""
        self._tell(Play(sound, at_frame))

    def hush(self, from_frame: int) -> None:
        """Forget sounds that begin at or after the frame; one already sounding fades out."""
        self._tell(Hush(from_frame))

    def read(self, from_frame: int, to_frame: int) -> Samples:
        """What the microphone heard between two frames; lost or future stretches are zeros."""
        shift = self.round_trip_frames
        return self._board.microphone.read(from_frame + shift, to_frame + shift)

    def keep_from(self, frame: int | None) -> None:
        """Keep what the microphone hears from this frame on; None: only the last seconds."""
        self._kept_from = frame

    def lengthen_round_trip(self, by_frames: int) -> None:
        """What was played is found this much later than believed.

        The student hears of it unless only the device's own figure proves wrong.
        """
        self.round_trip_frames += by_frames
        words = moved_words(by_frames, self.sample_rate_hz)
        if words is not None and not self.assumed:
            self._note(words, lost=False)
        self.assumed = False

    def faults(self) -> tuple[StreamFault, ...]:
        """Everything that went wrong so far, in order."""
        self._read_faults()
        return tuple(self._faults)

    def restart(self) -> None:
        """Have the device opened afresh at the next look; the port isn't alive until then."""
        self._restart_wanted = True

    # What keeps it going

    def start(self) -> None:
        """Open the device now; without this, the first look does, and is content with silence.

        Raises SoundError with a sentence that says what to do.
        """
        with self._changing:
            self._open()
            self._looked_s = self._clock_s()

    def look(self) -> None:
        """See whether the device still answers, and open it again where it doesn't."""
        with self._changing:
            now_s = self._clock_s()
            stood_still = now_s - self._looked_s > STOOD_STILL_S
            if self._closed:
                return
            if self._engine is None:
                if now_s >= self._retry_s:
                    self._come_back()
            elif self._restart_wanted:
                self._end_engine()
                self._come_back()
            elif self._silent:
                self._probe(now_s)
            elif stood_still:
                self._lose(SLEPT_WORDS)
            elif not self._engine.running() or self._silent_s(now_s) > LOST_AFTER_S:
                self._lose(LOST_WORDS)
            self._tell_of_the_microphone()
            self._board.microphone.forget(
                kept_from(self._kept_from, self.heard_frame(), self.sample_rate_hz)
            )
            self._looked_s = self._clock_s()

    def close(self) -> None:
        """Stop the sound; never hangs."""
        self._closed = True
        opening = self._opening
        if opening is not None:
            opening.end()  # the lock is held as long as it opens, which may be long
        with self._changing:
            self._end_engine()
            self._board.wipe()
            memory, self._memory = self._memory, None
            if memory is not None:
                os.close(memory)

    def _open(self) -> None:
        self._board.mend(self._clock_s())
        engine, answer = self._launched(self._memory)
        if not self._turns():
            engine.end()
            raise SoundError(HANGS_WORDS)
        self._opened = answer
        known = self._measured(answer.name, answer.sample_rate_hz)
        reported = (answer.input_latency_s + answer.output_latency_s) * answer.sample_rate_hz
        self.assumed = known is None
        self.round_trip_frames = 0
        if answer.listens:
            self.round_trip_frames = round(reported if known is None else known)
        self._opened_s = self._clock_s()
        self._opened_frame = self._board.played_frame
        self._looked_into = self._deaf = False
        self._silent_after_s = SILENT_AFTER_S
        if answer.words:
            self._note(answer.words, lost=False)
        self._slipped = self._lost = self._silent = self._restart_wanted = False
        self._engine = engine

    def _launched(self, memory: int | None) -> tuple[RunningEngine, OpenedStream]:
        if memory is None:
            raise SoundError(CLOSED_WORDS)
        engine = self._opening = self._launch(self._wanted, memory, self._log_path)
        answer = engine.answer(OPEN_LIMIT_S)
        self._opening = None
        if isinstance(answer, OpenedStream) and not self._closed:
            return engine, answer
        engine.end()
        raise SoundError(answer.words if isinstance(answer, Refused) else HANGS_WORDS)

    def _turns(self) -> bool:
        """Wait for the stream's first turn: one that was opened may still stand."""
        for _ in range(TURN_LOOKS):
            if self._board.has_turned or self._closed:
                return True
            time.sleep(TURN_LOOK_S)
        return False

    def _come_back(self) -> None:
        was_gone = self._lost or self._silent
        try:
            self._open()
        except SoundError as error:
            now_s = self._clock_s()
            if not self._lost:
                self._lost, self._lost_s = True, now_s
                if self._silent_after_s:
                    self._note(str(error))
            self._restart_wanted = False
            self._retry_s = now_s + RETRY_S
            if now_s - self._lost_s >= self._silent_after_s:
                self._fall_silent(str(error))
            return
        if was_gone:
            what = "the system's own device" if self.name in NAMELESS else self.name
            self._note(BACK_WORDS.format(name=what), lost=False)

    def _lose(self, words: str) -> None:
        self._note(words)
        self._slipped = self._lost = True
        self._end_engine()
        self._lost_s = self._retry_s = self._clock_s()

    def _fall_silent(self, why: str) -> None:
        """Let the clock run without sound, and look for a device now and then."""
        self._note(SILENT_WORDS.format(why=why))
        self._board.mend(self._clock_s())
        if self._memory is None:
            return
        silence = SilentStream(self._memory)
        self._engine, self._opened, self._silent = silence, silence.answer(0.0), True
        self._lost = self._restart_wanted = self._slipped = False
        self.round_trip_frames = 0
        self._retry_s = self._clock_s() + PROBE_S

    def _probe(self, now_s: float) -> None:
        """See whether there is a device again; the session restarts the port where it suits."""
        if now_s < self._retry_s or self._slipped:
            return
        memory = new_board_memory(PROBE_FRAMES)
        try:
            engine, _ = self._launched(memory)
            engine.end()
            self._slipped = True
        except SoundError:
            self._retry_s = self._clock_s() + PROBE_S
        finally:
            os.close(memory)

    def _end_engine(self) -> None:
        engine, self._engine = self._engine, None
        if engine is not None:
            engine.end()

    def _tell(self, order: Play | Hush) -> None:
        engine = self._engine
        if engine is not None:
            engine.tell(order)

    def _tell_of_the_microphone(self) -> None:
        """Say once that another channel is listened to, or that nothing comes in at all, and take
        this back when something does."""
        microphone, deaf_frames = self._board.microphone, round(DEAF_S * self.sample_rate_hz)
        end = microphone.end_frame
        if self.listens and not self._looked_into and end - self._opened_frame > deaf_frames:
            self._looked_into = True
            self._deaf = not microphone.read(self._opened_frame, end).any()
            if self._deaf:
                self._note(WHAT_TO_DO[Finding.DEAD], lost=False)
        elif self._deaf and microphone.read(end - deaf_frames, end).any():
            self._deaf = False
            self._note(HEARD_WORDS, lost=False)
        channel = self._board.channel
        if channel != self._channel_told:
            self._channel_told = channel
            self._note(CHANNEL_WORDS, lost=False)

    def _silent_s(self, now_s: float) -> float:
        return now_s - max(self._board.turned_s, self._opened_s)

    def _note(self, words: str, *, lost: bool = True) -> None:
        self._read_faults()
        with self._noting:
            self._faults.append(StreamFault(self._board.played_frame, words, lost))

    def _read_faults(self) -> None:
        with self._noting:
            for frame, flags in self._board.faults(self._faults_read):
                self._faults_read += 1
                self._slipped = True
                moved = bool(flags & WAY_MOVED)
                self._faults += [
                    StreamFault(frame, words, moved=moved) for words in fault_words(flags)
                ]

    def _way_out_frames(self) -> int:
        opened = self._opened
        if opened is None:
            return 0
        out_s, both_s = opened.output_latency_s, opened.input_latency_s + opened.output_latency_s
        if not opened.listens:
            return round(out_s * opened.sample_rate_hz)
        return round(self.round_trip_frames * out_s / both_s) if both_s else 0


def open_port(
    wanted: Wanted | None = None,
    *,
    log_path: Path | None = None,
    measured: MeasuredDelay = lambda _name, _rate_hz: None,
    or_silence: bool = False,
) -> DevicePort:
    """Open the devices and watch over them from a thread until the port is closed.

    Raises SoundError with a sentence that says what to do. With or_silence it returns at once: the
    devices are opened meanwhile, and where there is none the port's first fault says so and the
    clock runs without sound until there is one. On Windows it raises at once all the same.
    """
    refuse_system_without_sound()
    port = DevicePort(wanted, log_path=log_path, measured=measured)
    try:
        if not or_silence:
            port.start()
    except SoundError:
        port.close()
        raise
    Thread(target=watch, args=(port,), name="sound watch", daemon=True).start()
    return port


def watch(port: DevicePort) -> None:
    """Look after the port some ten times a second until it is closed."""
    while not port.closed:
        port.look()
        time.sleep(LOOK_S)
