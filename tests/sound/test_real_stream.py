"""The real stream through a real sound server: the one place where nothing is simulated."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import soundfile
from scipy.signal import correlate

from tests.conftest import undisturbed
from trainer.sound.device_port import BACK_WORDS, LOST_WORDS, SLEPT_WORDS

if TYPE_CHECKING:
    from tests.conftest import VirtualSound

PROGRAM = Path(__file__).parent / "real_stream.py"
RATE = 48000
BLOCK_FRAMES = 2048
"""What PulseAudio hands over at a time here."""


@contextmanager
def running(name: str, sound: VirtualSound, folder: Path) -> Iterator[subprocess.Popen[str]]:
    """One program of real_stream.py; ended with the test, however the test ends."""
    with subprocess.Popen(
        [sys.executable, PROGRAM, name, folder],
        env=sound.environment,
        stdout=subprocess.PIPE,
        text=True,
    ) as program:
        try:
            yield program
        finally:
            program.kill()


def wait_until(program: subprocess.Popen[str], word: str) -> None:
    assert program.stdout is not None
    assert program.stdout.readline() == f"{word}\n"


def result(program: subprocess.Popen[str]) -> dict[str, Any]:
    out, _ = program.communicate(timeout=600)
    assert program.returncode == 0
    found: dict[str, Any] = json.loads(out.splitlines()[-1])
    return found


def test_clicks_come_back_on_their_frame(virtual_sound: VirtualSound, tmp_path: Path) -> None:
    def attempt() -> dict[str, Any]:
        with running("loop", virtual_sound, tmp_path) as program:
            return result(program)

    found = undisturbed(attempt)
    assert found["alive"]
    assert found["peaks"] == [found["peak_of_tap"]] * 20
    assert found["spread_frames"] < 1.0
    assert found["largest_difference"] < 1e-3


def test_the_microphone_hears_what_is_fed_to_it(
    virtual_sound: VirtualSound, tmp_path: Path
) -> None:
    rng = np.random.default_rng(3)
    song = rng.uniform(-0.5, 0.5, RATE).astype(np.float32)
    soundfile.write(tmp_path / "song.wav", song, RATE, subtype="FLOAT")

    def attempt() -> dict[str, Any]:
        with running("microphone", virtual_sound, tmp_path) as program:
            wait_until(program, "open")
            assert virtual_sound.feed(tmp_path / "song.wav").wait(timeout=300) == 0
            (tmp_path / "fed").touch()
            return result(program)

    undisturbed(attempt)
    heard = np.load(tmp_path / "heard.npy")
    start = int(np.argmax(correlate(heard, song, mode="valid")))
    np.testing.assert_allclose(heard[start : start + RATE], song, atol=1e-4)


def test_a_server_that_dies_is_noticed_and_practice_goes_on_with_the_next(
    virtual_sound: VirtualSound, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    with running("torn", virtual_sound, tmp_path) as program:
        wait_until(program, "open")
        virtual_sound.kill()
        wait_until(program, "lost")
        virtual_sound.start_again()
        found = result(program)
    assert not found["alive"]
    assert found["noticed_s"] > 0.7  # nobody is alarmed by a hiccup
    assert found["back"]
    before, after = found["stood_at"]
    assert 0 <= after - before < RATE  # the clock stood, then went on from there
    assert found["goes_on_frames"] >= RATE
    for name in ("noticed_s", "closed_s"):  # about one second on a quiet machine
        record_property(name, found[name])
    assert found["faults"][0] == LOST_WORDS
    assert found["faults"][-1] == BACK_WORDS.format(name="loop")


@pytest.mark.slow
def test_a_program_that_was_held_up_starts_the_stream_afresh(
    virtual_sound: VirtualSound, tmp_path: Path
) -> None:
    """The delay is the same but for a block: a start may come a block late."""
    with running("held_up", virtual_sound, tmp_path) as program:
        wait_until(program, "open")
        program.send_signal(signal.SIGSTOP)
        time.sleep(2.0)  # real: it is the server's clock that must run on
        program.send_signal(signal.SIGCONT)
        found = result(program)
    assert found["alive"]
    assert not found["slipped"]
    assert found["clock_went_on"]
    assert found["faults"][0] == SLEPT_WORDS
    assert found["after"] == pytest.approx(found["before"], abs=BLOCK_FRAMES)
