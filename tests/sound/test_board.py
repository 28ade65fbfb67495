"""The board as two sides see it."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np

from trainer.sound.board import PREFIX, new_board_file, shared_board


def test_both_sides_see_the_same() -> None:
    file = new_board_file(1000)
    try:
        engine, trainer = shared_board(file), shared_board(file)
        engine.microphone.write(np.arange(300, dtype=np.float32))
        engine.turned(300, 12.5)
        engine.note_fault(0b0101)
        engine.listen_to(1)
        assert trainer.played_frame == trainer.microphone.end_frame == 300
        assert trainer.turned_s == 12.5
        assert trainer.faults() == [(300, 0b0101)]
        assert trainer.channel == 1
        np.testing.assert_array_equal(trainer.microphone.read(0, 300), np.arange(300))
    finally:
        file.unlink()


def test_the_longest_gap_counts_from_the_first_turn_of_a_stream() -> None:
    file = new_board_file(1000)
    try:
        board = shared_board(file)
        board.mend(10.0)
        assert board.longest_gap_s == 0.0
        for at_s in (10.6, 10.65, 10.72, 10.76):
            board.turned(480, at_s)
        assert abs(board.longest_gap_s - 0.07) < 1e-5
    finally:
        file.unlink()


def test_boards_of_programs_that_were_killed_are_removed() -> None:
    with subprocess.Popen([sys.executable, "-c", "pass"]) as gone:
        gone.wait()
    file = new_board_file(10)
    left = file.with_name(f"{PREFIX}{gone.pid}-left")
    left.write_bytes(b"")
    try:
        new_board_file(10).unlink()
        assert not left.exists()
        assert file.exists()
        assert file.name.startswith(f"{PREFIX}{os.getpid()}-")
    finally:
        file.unlink()
