"""The ring against the plainest model there is: one long list of everything written."""

from __future__ import annotations

import threading

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from trainer.sound.ring import WRITTEN_SOON_FRAMES, Ring


@given(
    capacity=st.integers(1, 40),
    blocks=st.lists(st.integers(0, 40), max_size=12),
    start=st.integers(-50, 300),
    length=st.integers(-5, 120),
)
def test_it_remembers_the_last_stretch_and_gives_zeros_elsewhere(
    capacity: int, blocks: list[int], start: int, length: int
) -> None:
    ring, written = Ring(capacity), []
    for count in blocks:
        block = np.arange(len(written) + 1, len(written) + 1 + min(count, capacity))
        ring.write(block.astype(np.float32))
        written.extend(block.tolist())
    assert ring.end_frame == len(written)
    kept = range(max(0, len(written) - capacity), len(written))
    expected = [written[frame] if frame in kept else 0 for frame in range(start, start + length)]
    assert ring.read(start, start + length).tolist() == expected


def test_a_reader_never_gets_frames_of_another_time() -> None:
    """Frame n holds n + 1: whatever the reader gets must be that or zero."""
    ring, done = Ring(1000), threading.Event()
    wrong: list[int] = []

    def listen() -> None:
        while not done.is_set():
            start = max(0, ring.end_frame - 1100)
            got = ring.read(start, start + 1200)
            truth = np.arange(start + 1, start + 1201)
            wrong.append(int(np.count_nonzero((got != truth) & (got != 0))))

    reader = threading.Thread(target=listen)
    reader.start()
    for begin in range(0, 1_000_000, 100):
        ring.write(np.arange(begin + 1, begin + 101, dtype=np.float32))
    done.set()
    reader.join()
    assert wrong
    assert sum(wrong) == 0


def test_what_is_read_is_a_copy() -> None:
    ring = Ring(4)
    ring.write(np.ones(4, np.float32))
    ring.read(0, 4).fill(9.0)
    assert ring.read(0, 4).tolist() == [1.0] * 4


@given(before=st.integers(-5, 90_000), again=st.integers(-5, 90_000))
def test_what_is_forgotten_is_gone_and_the_rest_is_there(before: int, again: int) -> None:
    """But for what the writer is about to write over, which is left to it."""
    capacity = WRITTEN_SOON_FRAMES + 20_000
    ring = Ring(capacity)
    for _ in range(3):
        ring.write(np.ones(23_000, np.float32))
    ring.forget(before)
    ring.forget(again)
    kept = ring.read(0, ring.end_frame)
    gone = min(max(before, again, 0), ring.end_frame)
    oldest = ring.end_frame - capacity + WRITTEN_SOON_FRAMES
    assert kept[gone:].tolist() == [
        float(frame >= ring.end_frame - capacity) for frame in range(gone, ring.end_frame)
    ]
    assert not kept[oldest:gone].any()
