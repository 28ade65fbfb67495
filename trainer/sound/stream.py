"""The sound device itself: its stream, and what the sound thread does at each turn.

It runs in the engine's process; the trainer sees it through `device_port`.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from trainer.errors import SoundError
from trainer.sound.board import Board
from trainer.sound.clocks import Crossing
from trainer.sound.mixer import Mixer
from trainer.sound.port import Samples
from trainer.sound.portaudio import explained
from trainer.sound.reported_way import ReportedWay

RATE_HZ = 48000
LATENCY_S = 0.1
"""Asked of the device: a busy machine holds up the sound thread for tens of ms, never this long."""
SETTLE_S = 0.5
"""Flags in a stream's first half second tell of its start alone."""
BLOCK_FRAMES = 4096
"""The longest block a device may ask for at once."""
MOST_CHANNELS = 2
CHANNEL_MEMORY = 0.97
"""The energies of the channels are remembered for some 30 blocks."""
LOUDER_CHANNEL = 300.0
"""Another channel is listened to when it has so many times the energy (25 dB)."""
SILENT_ENERGY = 1e-3
"""... and more than a microphone's own noise gives."""
DEAF_WORDS = "Practice goes on unheard, since the microphone can't be opened: {why}"

GONE_WORDS = "{name} is not there: the system's own {what} is used until it is."

FLAGS: tuple[tuple[str, str], ...] = (
    ("input_overflow", "The computer was too busy: some of what you played was lost."),
    ("input_underflow", "The microphone fell behind: some of what you played was lost."),
    ("output_underflow", "The computer was too busy: the click or the partner broke off."),
    ("output_overflow", "The loudspeaker fell behind: the click or the partner broke off."),
)
"""Status flags of the stream (PaStreamCallbackFlags) → what happened; bit n is the nth."""
INPUT_UNDERFLOW = 0b0010
"""PortAudio's flag (portaudio.h)."""
WAY_MOVED = 1 << len(FLAGS)
"""Ours: the way through the devices is another from there on, until the stream is started anew."""
WAY_MOVED_WORDS = "The computer was too busy: the sound fell behind, the rest isn't judged."


def fault_words(flags: int) -> list[str]:
    """A sentence for each flag that is raised; one where the way moved, whatever else was."""
    if flags & WAY_MOVED:
        return [WAY_MOVED_WORDS]
    return [words for bit, (_, words) in enumerate(FLAGS) if flags >> bit & 1]


@dataclass(frozen=True)
class Wanted:
    """What is asked of the device: named, numbered, or the system's own.

    Where one that is named is not there, the system's own takes its place.
    """

    input_device: str | int | None = None
    output_device: str | int | None = None
    listens: bool = True
    """False: no microphone is opened, even where there is one."""
    sample_rate_hz: int = RATE_HZ
    latency_s: float = LATENCY_S


class ChannelChoice:
    """Which channel of the microphone is listened to: the first, unless only another one speaks."""

    def __init__(self, board: Board) -> None:
        self._board = board
        self._energies: Samples = np.zeros(MOST_CHANNELS, np.float32)

    def chosen(self, heard: Samples) -> Samples:
        """One channel of a block of shape (frames, channels)."""
        channels = heard.shape[1]
        if channels == 1:
            return heard[:, 0]
        energies = self._energies[:channels]
        energies *= CHANNEL_MEMORY
        energies += np.einsum("ij,ij->j", heard, heard)
        loudest = int(energies.argmax())
        if energies[loudest] > LOUDER_CHANNEL * energies[self._board.channel] + SILENT_ENERGY:
            self._board.listen_to(loudest)
        return heard[:, self._board.channel]


class Turner:
    """What the sound thread does: fill, remember the microphone, count. No lock, no logging."""

    def __init__(
        self, board: Board, sample_rate_hz: int, clock_s: Callable[[], float] = time.monotonic
    ) -> None:
        self.mixer = Mixer()
        self._board = board
        self._listening = ChannelChoice(board)
        self._clock_s = clock_s
        self._half_second = sample_rate_hz // 2
        self._settled_frame = board.played_frame + round(SETTLE_S * sample_rate_hz)
        self._way = ReportedWay(sample_rate_hz)
        self._mix: Samples = np.zeros(BLOCK_FRAMES, np.float32)
        self._silence: Samples = np.zeros(BLOCK_FRAMES, np.float32)

    def turn(self, heard: Samples | None, out: Samples, status: Any) -> None:
        """One block: heard has shape (frames, channels) or is None without a microphone.

        out has shape (frames, channels).
        """
        if status:
            self.note(status)
        for begin in range(0, len(out), BLOCK_FRAMES):
            part = slice(begin, begin + BLOCK_FRAMES)
            chosen = None if heard is None else self._listening.chosen(heard[part])
            self._turn_part(chosen, out[part])

    def follow(self, time: Any) -> None:
        """Note where the way lastingly moved that a duplex stream reports with each block."""
        frame = self._board.played_frame
        if frame < self._settled_frame:
            return
        way_s = time.outputBufferDacTime - time.inputBufferAdcTime
        moved_frame = self._way.moved_at(frame, way_s, self._clock_s() - self._board.turned_s)
        if moved_frame is not None:
            self._board.note_fault(WAY_MOVED, moved_frame)

    def note(self, status: Any) -> None:
        """Note the flags, but not the same ones again within half a second.

        A stream that has just started always finds the microphone's buffer empty: that alone is
        no fault.
        """
        flags = sum(getattr(status, flag) << bit for bit, (flag, _) in enumerate(FLAGS))
        settling = self._board.played_frame < self._settled_frame
        if not flags or (settling and flags == INPUT_UNDERFLOW):
            return
        recent_frame = self._board.played_frame - self._half_second
        for frame, before in self._board.faults(max(0, self._board.fault_count - 4)):
            if frame > recent_frame:
                flags &= ~before
        if flags:
            self._board.note_fault(flags, self._board.played_frame)

    def _turn_part(self, heard: Samples | None, out: Samples) -> None:
        mix = self._mix[: len(out)]
        self.mixer.fill(mix, self._board.played_frame)
        for channel in range(out.shape[1]):
            out[:, channel] = mix
        self._board.microphone.write(self._silence[: len(out)] if heard is None else heard)
        self._board.turned(len(out), self._clock_s())


@dataclass(frozen=True)
class OpenStream:
    """A stream that runs."""

    name: str
    """The device, or both devices, by their own names."""
    listens: bool
    sample_rate_hz: int
    input_latency_s: float
    """As the device reports it, which may be off by 100 ms."""
    output_latency_s: float
    mixer: Mixer
    streams: tuple[Any, ...]
    words: str = ""
    """What the student should know; empty when all is well."""


def open_stream(
    wanted: Wanted, board: Board, library: Any, clock_s: Callable[[], float] = time.monotonic
) -> OpenStream:
    """Open and start the devices; a device that refuses the rate is asked for its own.

    One device that plays and listens gets one stream; two devices get a stream each, their clocks
    fitted. Without a microphone, or where the system's own can't be opened, the stream plays only.
    Raises SoundError with a sentence that says what to do.
    """
    speaker, told = _speaker(library, wanted.output_device)
    microphone, told_too = _microphone(library, wanted.input_device) if wanted.listens else NO_ONE
    words = " ".join(filter(None, (told, told_too)))
    opener = _Opener(library, wanted.latency_s, board, clock_s)
    try:
        return replace(_at_some_rate(opener, wanted, microphone, speaker), words=words)
    except SoundError as error:
        if microphone is None or wanted.input_device is not None:
            raise
        deaf = _at_some_rate(opener, wanted, None, speaker)
        return replace(deaf, words=DEAF_WORDS.format(why=error))


def _at_some_rate(opener: _Opener, wanted: Wanted, microphone: Any, speaker: Any) -> OpenStream:
    """At the rate wanted, or at one that the loudspeaker takes."""
    rates = dict.fromkeys((wanted.sample_rate_hz, RATE_HZ, round(speaker["default_samplerate"])))
    for rate in rates:
        try:
            if microphone is None:
                return opener.output_alone(speaker, rate)
            if microphone["index"] == speaker["index"]:
                return opener.duplex(speaker, rate)
            return opener.two_devices(microphone, speaker, rate)
        except opener.library.PortAudioError as error:
            failure = explained("The sound can't be started", error)
            if "-9997" not in str(error):
                raise failure from error
    raise failure


@dataclass(frozen=True)
class _Opener:
    """The three ways to open what there is."""

    library: Any
    latency_s: float
    board: Board
    clock_s: Callable[[], float]

    def output_alone(self, speaker: Any, rate: int) -> OpenStream:
        turner = Turner(self.board, rate, self.clock_s)
        stream = self._output(
            speaker, rate, lambda out, _frames, _time, status: turner.turn(None, out, status)
        )
        stream.start()
        return OpenStream(
            speaker["name"], False, rate, 0.0, stream.latency, turner.mixer, (stream,)
        )

    def duplex(self, device: Any, rate: int) -> OpenStream:
        turner = Turner(self.board, rate, self.clock_s)

        def turn(heard: Samples, out: Samples, _frames: int, time: Any, status: Any) -> None:
            turner.follow(time)
            turner.turn(heard, out, status)

        stream = self.library.Stream(
            device=(device["index"], device["index"]),
            channels=(_channels(device, "input"), _channels(device, "output")),
            samplerate=rate,
            dtype="float32",
            latency=self.latency_s,
            callback=turn,
        )
        stream.start()
        into_s, out_s = stream.latency
        return OpenStream(device["name"], True, rate, into_s, out_s, turner.mixer, (stream,))

    def two_devices(self, microphone: Any, speaker: Any, rate: int) -> OpenStream:
        """The loudspeaker's clock is the port's; what the microphone hears is brought onto it."""
        turner = Turner(self.board, rate, self.clock_s)
        input_rate = self._input_rate(microphone, rate)
        crossing = Crossing(input_rate, rate, self.clock_s)
        listening = ChannelChoice(self.board)

        def play(out: Samples, _frames: int, _time: Any, status: Any) -> None:
            turner.turn(crossing.crossed(len(out)), out, status)

        def listen(heard: Samples, _frames: int, _time: Any, status: Any) -> None:
            if status:
                turner.note(status)
            crossing.write(listening.chosen(heard))

        output = self._output(speaker, rate, play)
        try:
            heard = self.library.InputStream(
                device=microphone["index"],
                channels=_channels(microphone, "input"),
                samplerate=input_rate,
                dtype="float32",
                latency=self.latency_s,
                callback=listen,
            )
        except self.library.PortAudioError:
            output.close()
            raise
        output.start()
        heard.start()
        into_s = heard.latency + crossing.delay_s
        name = f"{microphone['name']} and {speaker['name']}"
        return OpenStream(name, True, rate, into_s, output.latency, turner.mixer, (output, heard))

    def _output(self, speaker: Any, rate: int, callback: Callable[..., None]) -> Any:
        return self.library.OutputStream(
            device=speaker["index"],
            channels=_channels(speaker, "output"),
            samplerate=rate,
            dtype="float32",
            latency=self.latency_s,
            callback=callback,
        )

    def _input_rate(self, microphone: Any, rate: int) -> int:
        """The loudspeaker's rate where the microphone takes it, else the microphone's own."""
        try:
            self.library.check_input_settings(
                device=microphone["index"],
                channels=_channels(microphone, "input"),
                dtype="float32",
                samplerate=rate,
            )
        except self.library.PortAudioError:
            return int(microphone["default_samplerate"])
        return rate


def _channels(device: Any, kind: str) -> int:
    """At most a pair: some microphones speak on the second channel alone."""
    has: int = device[f"max_{kind}_channels"]
    return min(MOST_CHANNELS, has)


def _device(library: Any, device: str | int | None, kind: str, what: str) -> Any:
    try:
        found = library.query_devices(device, kind)
    except (ValueError, library.PortAudioError) as error:
        raise explained(what, error) from error
    if not found[f"max_{kind}_channels"]:
        raise SoundError(f"{what}: '{found['name']}' has no {kind}; see `trainer devices`.")
    return found


def _speaker(library: Any, device: str | int | None) -> tuple[Any, str]:
    """The loudspeaker, and a sentence where it isn't the one named."""
    return _named_or_own(
        lambda named: _device(library, named, "output", "The loudspeaker can't be opened"),
        device,
        "loudspeaker",
    )


def _microphone(library: Any, device: str | int | None) -> tuple[Any, str]:
    """The microphone, None where there is none at all; and a sentence where it isn't the one
    named."""
    try:
        return _named_or_own(
            lambda named: _device(library, named, "input", "The microphone can't be opened"),
            device,
            "microphone",
        )
    except SoundError:
        if isinstance(device, int):
            raise
        return NO_ONE


NO_ONE = (None, "")
"""No device, and nothing to be said of it."""


def _named_or_own(
    find: Callable[[str | int | None], Any], device: str | int | None, what: str
) -> tuple[Any, str]:
    try:
        return find(device), ""
    except SoundError:
        if not isinstance(device, str):
            raise
        return find(None), GONE_WORDS.format(name=device, what=what)
