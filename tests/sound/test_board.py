"""The board as two sides see it."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

import numpy as np
import pytest

from trainer.sound.board import new_board_memory, shared_board


def test_both_sides_see_the_same() -> None:
    memory = new_board_memory(1000)
    try:
        engine, trainer = shared_board(memory), shared_board(memory)
        engine.microphone.write(np.arange(300, dtype=np.float32))
        engine.turned(300, 12.5)
        engine.note_fault(0b0101, 300)
        engine.listen_to(1)
        assert trainer.played_frame == trainer.microphone.end_frame == 300
        assert trainer.turned_s == 12.5
        assert trainer.faults() == [(300, 0b0101)]
        assert trainer.channel == 1
        np.testing.assert_array_equal(trainer.microphone.read(0, 300), np.arange(300))
    finally:
        os.close(memory)


def test_the_longest_gap_counts_from_the_first_turn_of_a_stream() -> None:
    memory = new_board_memory(1000)
    try:
        board = shared_board(memory)
        board.mend(10.0)
        assert board.longest_gap_s == 0.0
        for at_s in (10.6, 10.65, 10.72, 10.76):
            board.turned(480, at_s)
        assert abs(board.longest_gap_s - 0.07) < 1e-5
    finally:
        os.close(memory)


def test_nothing_with_a_name_holds_what_was_heard() -> None:
    """Whatever ends the program, the system takes back memory that no name leads to."""
    shared = Path("/dev/shm")
    before = set(shared.iterdir()) if shared.is_dir() else set()
    memory = new_board_memory(1000)
    try:
        board = shared_board(memory)
        board.microphone.write(np.ones(500, np.float32))
        assert os.fstat(memory).st_size >= 4 * 1000
        assert os.fstat(memory).st_nlink == 0
        assert before >= (set(shared.iterdir()) if shared.is_dir() else set())
        board.wipe()
        assert not shared_board(memory).microphone.read(0, 500).any()
    finally:
        os.close(memory)


def test_without_memory_of_that_kind_a_file_loses_its_name_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on macOS, which has no memfd_create (Linux manual page memfd_create(2))."""
    monkeypatch.delattr(os, "memfd_create", raising=False)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    memory = new_board_memory(1000)
    try:
        shared_board(memory).microphone.write(np.ones(500, np.float32))
        assert shared_board(memory).microphone.read(0, 500).all()
        assert not list(tmp_path.iterdir())
    finally:
        os.close(memory)
