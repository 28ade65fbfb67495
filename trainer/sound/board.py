"""What the sound engine and the trainer see of each other: counters and the microphone's memory.

It lies in memory that both processes map, so that the sound thread waits for nobody: it writes
numbers, the other side reads them. The memory has no name, and a descriptor is handed on to the
engine: nobody else can find it, and whatever ends the two processes, nothing heard stays behind.
"""

from __future__ import annotations

import mmap
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from trainer.sound.port import Samples
from trainer.sound.ring import MARKS, Ring

PLAYED, TURNED_US, FAULTS, GAP_US, CHANNEL = range(MARKS, MARKS + 5)
COUNTERS = 8
NOT_YET = -1
"""In place of the longest gap: the new stream has not turned yet."""
MOST_FAULTS = 4096
"""More than a device raises in a day of practice."""


@dataclass(frozen=True)
class Board:
    """The shared numbers of one stream; one process writes, the other reads."""

    counters: NDArray[np.int64]
    """Two marks of the ring, frames played, the last turn on the monotonic clock in µs, faults, the
    longest time between two turns in µs, the microphone's channel that is listened to."""
    fault_marks: NDArray[np.int64]
    """Shape (MOST_FAULTS, 2): frame, and the flags raised there as bits."""
    microphone: Ring

    @property
    def played_frame(self) -> int:
        """Frames played so far."""
        return int(self.counters[PLAYED])

    @property
    def turned_s(self) -> float:
        """When the device last asked for sound, on the monotonic clock."""
        return float(self.counters[TURNED_US]) / 1e6

    def turned(self, frames: int, now_s: float) -> None:
        """The device has taken so many frames more."""
        now_us = round(1e6 * now_s)
        self.counters[PLAYED] += frames
        gap_us = now_us - self.counters[TURNED_US] if self.counters[GAP_US] >= 0 else 0
        self.counters[GAP_US] = max(self.counters[GAP_US], gap_us)
        self.counters[TURNED_US] = now_us

    def listen_to(self, channel: int) -> None:
        """The microphone's channel that is taken from now on."""
        self.counters[CHANNEL] = channel

    def note_fault(self, flags: int, frame: int) -> None:
        """Flags were raised at the frame; past MOST_FAULTS nothing is noted."""
        count = self.fault_count
        if count < MOST_FAULTS:
            self.fault_marks[count] = frame, flags
            self.counters[FAULTS] = count + 1

    @property
    def has_turned(self) -> bool:
        """True once the present stream has been asked for sound."""
        return int(self.counters[GAP_US]) != NOT_YET

    @property
    def longest_gap_s(self) -> float:
        """The longest time between two turns of this stream."""
        return max(0.0, float(self.counters[GAP_US]) / 1e6)

    @property
    def channel(self) -> int:
        """The microphone's channel that is listened to, from 0."""
        return int(self.counters[CHANNEL])

    @property
    def fault_count(self) -> int:
        """Faults noted so far."""
        return int(self.counters[FAULTS])

    def faults(self, first: int = 0) -> list[tuple[int, int]]:
        """Frame and flags of each fault from the given number on."""
        marks = self.fault_marks[first : self.fault_count]
        return [(int(frame), int(flags)) for frame, flags in marks]

    def mend(self, now_s: float) -> None:
        """Make ready for a new stream after one that may have died in the middle of a turn."""
        self.microphone.skip_to(self.played_frame)
        self.counters[PLAYED] = self.microphone.end_frame
        self.counters[TURNED_US] = round(1e6 * now_s)
        self.counters[GAP_US], self.counters[CHANNEL] = NOT_YET, 0

    def wipe(self) -> None:
        """Forget everything the microphone heard."""
        self.microphone.wipe()


def private_board(memory_frames: int) -> Board:
    """A board in this process alone."""
    return _board(
        np.zeros(memory_frames, np.float32), np.zeros(COUNTERS + 2 * MOST_FAULTS, np.int64)
    )


def new_board_memory(memory_frames: int) -> int:
    """An empty board for `shared_board`, as a descriptor; whoever made it closes it."""
    handle = _nameless_memory()
    os.ftruncate(handle, 8 * (COUNTERS + 2 * MOST_FAULTS) + 4 * memory_frames)
    return handle


def shared_board(handle: int) -> Board:
    """The board, as every process sees it that maps the same memory; the descriptor may be closed
    afterwards.
    """
    numbers = COUNTERS + 2 * MOST_FAULTS
    memory = mmap.mmap(handle, 0)
    counts = np.frombuffer(memory, np.int64, numbers)
    samples = np.frombuffer(memory, np.float32, offset=8 * numbers)
    return _board(samples, counts)


def _nameless_memory() -> int:
    """Memory where the system has it (Linux), elsewhere a file whose name is gone at once."""
    if hasattr(os, "memfd_create"):
        return os.memfd_create("trainer-sound")
    handle, name = tempfile.mkstemp()
    Path(name).unlink()
    return handle


def _board(samples: Samples, numbers: NDArray[np.int64]) -> Board:
    counters = numbers[:COUNTERS]
    fault_marks = numbers[COUNTERS:].reshape(MOST_FAULTS, 2)
    return Board(counters, fault_marks, Ring.over(samples, counters[:MARKS]))
