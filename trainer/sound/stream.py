"""The real sound device: one duplex stream whose frame counter is the clock."""

from __future__ import annotations

import atexit
import time
from collections.abc import Callable
from threading import Thread
from typing import Any

import numpy as np

from trainer.errors import SoundError
from trainer.sound.duplex import DuplexPort
from trainer.sound.port import Samples, StreamFault
from trainer.sound.portaudio import device_library, explained

RATE_HZ = 48000
LATENCY_S = 0.1
"""Asked of the device: a busy screen holds up the sound thread for tens of ms, never this long."""
LOST_AFTER_S = 1.0
SETTLE_S = 0.5
CLOSE_LIMIT_S = 2.0
MEMORY_S = 300.0
BLOCK_FRAMES = 4096

FLAG_WORDS: tuple[tuple[str, str], ...] = (
    ("input_overflow", "The computer was too busy: some of what you played was lost."),
    ("input_underflow", "The microphone fell behind: some of what you played was lost."),
    ("output_underflow", "The computer was too busy: the click or the partner broke off."),
    ("output_overflow", "The loudspeaker fell behind: the click or the partner broke off."),
)
"""Status flags of the stream (PaStreamCallbackFlags) → what happened."""
LOST_WORDS = (
    "The sound device stopped answering: if it stays silent, plug it in again or restart the "
    "sound server."
)


class StreamPort(DuplexPort):
    """A `SoundPort` on the computer's own devices; open one per process and keep it.

    Reads are moved by `round_trip_frames`; as long as `assumed` is True that is only what the
    device reports about itself, which may be off by 100 ms. Measure it. A stream may also start
    a block late without any flag: with PulseAudio by 2047 frames (43 ms) in 2 of 92 starts, 1 of
    159 restarts and 4 of 55 restarts after a stall. A delay holds only for the start it was
    measured in.
    """

    def __init__(
        self,
        sample_rate_hz: int,
        listens: bool,
        clock_s: Callable[[], float] = time.monotonic,
        memory_s: float = MEMORY_S,
    ) -> None:
        """Use `open_stream`; this builds the port without its device."""
        super().__init__(sample_rate_hz, 0, listens, memory_s)
        self.assumed = True
        """True until `round_trip_frames` has been measured, and again after a restart."""
        self._clock_s = clock_s
        self._name = ""
        self._stream: Any = None
        self._turned_s = clock_s()
        self._started_frame = 0
        self._slipped = False
        self._lost = False
        self._closed = False
        self._mix: Samples = np.zeros(BLOCK_FRAMES, np.float32)
        self._silence: Samples = np.zeros(BLOCK_FRAMES, np.float32)

    @property
    def name(self) -> str:
        """The device, or both devices, by their own names."""
        return self._name

    @property
    def alive(self) -> bool:
        """False when closed, or when the device hasn't asked for sound for a second."""
        self._watch()
        return not self._closed and not self._lost

    @property
    def slipped(self) -> bool:
        """True since the stream faltered: its delay may have changed until it is restarted."""
        self._watch()
        return self._slipped

    def faults(self) -> tuple[StreamFault, ...]:
        """Everything that went wrong so far, in order."""
        self._watch()
        return super().faults()

    def attach(self, stream: Any, name: str, reported_frames: int, measured: int | None) -> None:
        """Take the opened stream, start it, and set the round trip: measured, else reported."""
        self._stream, self._name = stream, name
        self.assumed = measured is None
        self.round_trip_frames = reported_frames if measured is None else measured
        self._turned_s = self._clock_s()
        stream.start()

    def restart(self) -> bool:
        """Stop and start the same stream where nothing sounds: the cure for one that faltered.

        The clock goes on from where it stood; the round trip must be measured again (`assumed`).
        False when the device doesn't answer.
        """
        if self._closed or not answers_within(CLOSE_LIMIT_S, self._start_again):
            return False
        self._slipped = False
        self.assumed = True
        return True

    def close(self) -> None:
        """Stop and close the stream; a dead sound server is left behind after two seconds."""
        if self._closed or self._stream is None:
            return
        self._closed = True
        if not answers_within(CLOSE_LIMIT_S, self._let_go):
            forget_at_exit(device_library())

    def turn(self, heard: Samples | None, out: Samples, status: Any) -> None:
        """One block, called by the sound thread: fill, remember the microphone, count.

        heard has shape (frames, channels) or is None without a microphone; out has shape
        (frames, channels). Takes no lock and makes no array.
        """
        if status:
            self._note(status)
        for begin in range(0, len(out), BLOCK_FRAMES):
            part = slice(begin, begin + BLOCK_FRAMES)
            self._turn_part(None if heard is None else heard[part, 0], out[part])
        self._turned_s = self._clock_s()

    def _turn_part(self, heard: Samples | None, out: Samples) -> None:
        mix = self._mix[: len(out)]
        self._mixer.fill(mix, self._played_frame)
        for channel in range(out.shape[1]):
            out[:, channel] = mix
        self._microphone.write(self._silence[: len(out)] if heard is None else heard)
        self._played_frame += len(out)

    def _note(self, status: Any) -> None:
        """Remember what the flags say, but not the same thing again within half a second.

        A stream that has just started always finds the microphone's buffer empty: that alone is
        no fault.
        """
        settled_frame = self._started_frame + SETTLE_S * self._sample_rate_hz
        settling = self._played_frame < settled_frame
        raised = {flag: words for flag, words in FLAG_WORDS if getattr(status, flag)}
        if not raised or (settling and list(raised) == ["input_underflow"]):
            return
        self._slipped = True
        recent_frame = self._played_frame - self._sample_rate_hz // 2
        recent = {fault.what for fault in self._faults[-4:] if fault.frame > recent_frame}
        for words in raised.values():
            if words not in recent:
                self._faults.append(StreamFault(self._played_frame, words))

    def _watch(self) -> None:
        silent = self._clock_s() - self._turned_s > LOST_AFTER_S
        if silent and not self._lost and not self._closed:
            self._faults.append(StreamFault(self._played_frame, LOST_WORDS))
            self._slipped = True
        self._lost = silent

    def _start_again(self) -> None:
        self._stream.abort()
        self._started_frame = self._played_frame
        self._turned_s = self._clock_s()
        self._stream.start()

    def _let_go(self) -> None:
        try:
            self._stream.abort()
            self._stream.close()
        except Exception:  # the device is gone: there is nothing left to close
            return


def open_stream(
    input_device: str | int | None = None,
    output_device: str | int | None = None,
    round_trip_frames: int | None = None,
    sample_rate_hz: int = RATE_HZ,
    latency_s: float = LATENCY_S,
    library: Any = None,
) -> StreamPort:
    """Open and start the devices: named, numbered, or the system's own.

    A device that refuses the rate is asked for its own. Without any microphone the port plays
    only (`listens` False). Raises SoundError with a sentence that says what to do.
    """
    library = library or device_library()
    speaker = _device(library, output_device, "output", "The loudspeaker can't be opened")
    microphone = _microphone(library, input_device)
    rates = dict.fromkeys((sample_rate_hz, RATE_HZ, round(speaker["default_samplerate"])))
    for rate in rates:
        try:
            return _opened(library, microphone, speaker, rate, latency_s, round_trip_frames)
        except library.PortAudioError as error:
            failure = explained("The sound can't be started", error)
            if "-9997" not in str(error):
                raise failure from error
    raise failure


def _device(library: Any, device: str | int | None, kind: str, what: str) -> Any:
    try:
        found = library.query_devices(device, kind)
    except (ValueError, library.PortAudioError) as error:
        raise explained(what, error) from error
    if not found[f"max_{kind}_channels"]:
        raise SoundError(f"{what}: '{found['name']}' has no {kind}; see `trainer devices`.")
    return found


def _microphone(library: Any, device: str | int | None) -> Any:
    """The microphone, or None when none was named and there is none."""
    try:
        return _device(library, device, "input", "The microphone can't be opened")
    except SoundError:
        if device is None:
            return None
        raise


def _opened(
    library: Any, microphone: Any, speaker: Any, rate: int, latency_s: float, measured: int | None
) -> StreamPort:
    port = StreamPort(rate, listens=microphone is not None)
    channels = min(2, speaker["max_output_channels"])
    common = {"samplerate": rate, "dtype": "float32", "latency": latency_s}
    if microphone is None:
        stream = library.OutputStream(
            device=speaker["index"],
            channels=channels,
            callback=lambda out, _frames, _time, status: port.turn(None, out, status),
            **common,
        )
        reported_s, name = 0.0, speaker["name"]
    else:
        stream = library.Stream(
            device=(microphone["index"], speaker["index"]),
            channels=(1, channels),
            callback=lambda heard, out, _frames, _time, status: port.turn(heard, out, status),
            **common,
        )
        reported_s, name = sum(stream.latency), _both(microphone["name"], speaker["name"])
    port.attach(stream, name, round(reported_s * rate), measured if microphone else 0)
    return port


def _both(microphone: str, speaker: str) -> str:
    return speaker if microphone == speaker else f"{microphone} and {speaker}"


def answers_within(limit_s: float, work: Callable[[], None]) -> bool:
    """Do the work in a thread of its own; False when it isn't done in time, or ever."""
    worker = Thread(target=work, name="sound device", daemon=True)
    worker.start()
    worker.join(limit_s)
    return not worker.is_alive()


def forget_at_exit(library: Any) -> None:
    """Keep the library from closing a dead stream when the program ends: it would never return."""
    atexit.unregister(library._exit_handler)
