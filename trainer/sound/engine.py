"""The sound engine: the device's stream in a process of its own.

There nothing holds up the sound thread, and a sound system that hangs or dies takes only the
engine with it: the trainer ends it and starts another. Orders come in over a pipe; counters and the
microphone's samples go back over a board that both map.
"""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from queue import Empty, SimpleQueue
from threading import Thread
from typing import Any, BinaryIO, Protocol

from trainer.disk.private import private_appending
from trainer.errors import SoundError
from trainer.sound.board import Board, shared_board
from trainer.sound.port import Samples
from trainer.sound.portaudio import device_library
from trainer.sound.process import undisturbed
from trainer.sound.stream import OpenStream, Wanted, open_stream

STDOUT_FD, STDERR_FD = 1, 2
"""File descriptors (POSIX)."""
END_LIMIT_S = 2.0
NICENESS = -11
"""Asked of the system: sound goes first on a busy machine."""
PROGRAM = "import sys; sys.path[:] = sys.argv[1:]; from trainer.sound.engine import main; main()"
"""Modules come from where the trainer's own came from; with -P none comes from the current folder,
where anybody may have laid a `numpy.py`."""


@dataclass(frozen=True)
class Play:
    """Mix a sound in from the frame on."""

    sound: Samples
    at_frame: int


@dataclass(frozen=True)
class Hush:
    """Forget what begins at or after the frame."""

    from_frame: int


Order = Play | Hush


@dataclass(frozen=True)
class OpenedStream:
    """The stream runs."""

    name: str
    listens: bool
    sample_rate_hz: int
    input_latency_s: float
    output_latency_s: float
    words: str = ""
    """What the student should know of it; empty when all is well."""


@dataclass(frozen=True)
class Refused:
    """It can't be opened; the sentence says what to do."""

    words: str


Answer = OpenedStream | Refused


class RunningEngine(Protocol):
    """An engine that was started, seen from the trainer."""

    def answer(self, limit_s: float) -> Answer | None:
        """What came of opening the device; None when it hasn't said so in time."""
        ...

    def tell(self, order: Order) -> None:
        """Pass an order on; never waits."""
        ...

    def running(self) -> bool:
        """False once it has ended, by itself or by `end`."""
        ...

    def end(self) -> None:
        """Stop it, whatever state it is in; returns soon."""
        ...


Launch = Callable[[Wanted, int, Path | None], RunningEngine]
"""Starts an engine: what is wanted, the descriptor of the board's memory, and a log for the sound
system's words."""


def serve(
    wanted: Wanted,
    board: Board,
    library: Any,
    next_order: Callable[[], Order | None],
    answer: Callable[[Answer], None],
) -> OpenStream | None:
    """Open the stream and do as told until the orders end (None); the stream, still open."""
    try:
        stream = open_stream(wanted, board, library or device_library())
    except SoundError as error:
        answer(Refused(str(error)))
        return None
    answer(
        OpenedStream(
            stream.name,
            stream.listens,
            stream.sample_rate_hz,
            stream.input_latency_s,
            stream.output_latency_s,
            stream.words,
        )
    )
    while (order := next_order()) is not None:
        match order:
            case Play(sound, at_frame):
                stream.mixer.play(sound, at_frame)
            case Hush(from_frame):
                stream.mixer.hush(from_frame)
    return stream


class Engine:
    """An engine in a process of its own."""

    def __init__(self, wanted: Wanted, board_memory: int, log_path: Path | None) -> None:
        """Start it; it opens the device meanwhile."""
        log = None if log_path is None else _log_for_the_engine(log_path)
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-c", PROGRAM, *module_folders(sys.path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL if log is None else log,
            pass_fds=(board_memory,),
        )
        if log is not None:
            log.close()
        self._orders: SimpleQueue[Any] = SimpleQueue()
        self._answers: SimpleQueue[Answer | None] = SimpleQueue()
        self._orders.put((wanted, board_memory))
        for work in (self._pass_on, self._listen):
            Thread(target=work, name="sound engine", daemon=True).start()

    def answer(self, limit_s: float) -> Answer | None:
        """What came of opening the device; None when it hasn't said so in time, or has ended."""
        try:
            return self._answers.get(timeout=limit_s)
        except Empty:
            return None

    def tell(self, order: Order) -> None:
        """Pass an order on; never waits."""
        self._orders.put(order)

    def running(self) -> bool:
        """False once the process has ended."""
        return self._process.poll() is None

    def end(self) -> None:
        """Kill the process: a stream on a dead sound server can't be closed otherwise."""
        self._process.kill()
        self._orders.put(None)
        try:
            self._process.wait(END_LIMIT_S)
        except subprocess.TimeoutExpired:
            return  # it hangs inside the system, and will end when the system lets it

    def _pass_on(self) -> None:
        orders = self._process.stdin
        assert orders is not None
        try:
            while (order := self._orders.get()) is not None:
                pickle.dump(order, orders, protocol=5)
                orders.flush()
            orders.close()
        except OSError:  # the engine has ended; whoever watches it will see
            return

    def _listen(self) -> None:
        answers = self._process.stdout
        assert answers is not None
        with answers:
            try:
                self._answers.put(pickle.load(answers))
            except (EOFError, pickle.UnpicklingError):
                self._answers.put(None)


def module_folders(search: Sequence[str]) -> list[str]:
    """Where modules are looked for, without the current folder under whatever name it stands."""
    here = str(Path(__file__).parents[2])
    return [here, *(folder for folder in search if Path(folder).is_absolute() and folder != here)]


def _log_for_the_engine(log_path: Path) -> BinaryIO | None:
    """The log to append to; None where it can't be written: sound matters more."""
    try:
        return private_appending(log_path)
    except OSError:
        return None


def main() -> None:
    """The engine's process: wanted and board come first, then orders, until the pipe closes."""
    for name in ("SIGINT", "SIGHUP", "SIGQUIT"):  # of the terminal: the trainer decides the end
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    with suppress(OSError, AttributeError):  # not everybody may, and not every system has it
        os.nice(NICENESS)
    orders = sys.stdin.buffer
    answers = os.fdopen(os.dup(STDOUT_FD), "wb")
    os.dup2(STDERR_FD, STDOUT_FD)  # sound systems may print; the pipe is for answers alone
    wanted, board_memory = pickle.load(orders)

    def next_order() -> Order | None:
        try:
            order: Order = pickle.load(orders)
        except (EOFError, pickle.UnpicklingError):
            return None
        return order

    def answer(words: Answer) -> None:
        with answers:
            pickle.dump(words, answers)

    with undisturbed():
        serve(wanted, shared_board(board_memory), None, next_order, answer)
    os._exit(0)  # closing a stream on a dead sound server would take for ever
