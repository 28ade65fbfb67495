"""TERM, HUP and QUIT end the practice on the screen as `q` does, in a terminal of their own; and so
does a terminal that goes without a word, as one does whose HUP is ignored."""

from __future__ import annotations

import fcntl
import os
import signal
import subprocess
import sys
import termios
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("a pty is POSIX's", allow_module_level=True)

from tests.own_terminal import PAGE_DOWN, TITLE, OwnTerminal, routine_in

PROJECT = Path(__file__).parents[2]
CTRL_Z, STOPPED = b"\x1a", "stopped here"
LIMIT_S = 400.0
"""Only what hangs takes so long, on a busy machine too."""


def signals_heeded() -> None:
    """As a terminal starts a program, also where the tests run under nohup or in the background."""
    for name in ("SIGHUP", "SIGQUIT", "SIGTERM"):
        signal.signal(getattr(signal, name), signal.SIG_DFL)


def own_terminal_to_control() -> None:
    """As a login gives one to its shell (tty_ioctl(4))."""
    signals_heeded()
    os.setsid()
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


@contextmanager
def practising(home: Path, *words: str) -> Iterator[tuple[OwnTerminal, subprocess.Popen[bytes]]]:
    """The trainer on Today with the played-in flutist."""
    terminal = OwnTerminal()
    end = terminal.slave
    program = subprocess.Popen(
        [sys.executable, "-m", "trainer", "practise", "--player", *words,
         "--routine", str(routine_in(home))],
        stdin=end, stdout=end, stderr=end, cwd=PROJECT, start_new_session=True,
        env=dict(os.environ, TRAINER_HOME=str(home), TERM="xterm-256color"),
        preexec_fn=signals_heeded,
    )  # fmt: skip
    try:
        terminal.read_until(lambda: terminal.shows_today, LIMIT_S)
        yield terminal, program
    finally:
        program.kill()
        program.wait()
        if terminal.is_open:
            terminal.close()


def rounds(home: Path) -> list[str]:
    return [file.read_text() for file in home.glob("**/journal/*.yaml")]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGQUIT"])
def test_a_signal_in_the_middle_of_practice_ends_it_as_q_does(name: str, tmp_path: Path) -> None:
    with practising(tmp_path) as (terminal, program):
        terminal.read_for(0.5)

        def a_round_is_written() -> bool:
            terminal.press(b"" if rounds(tmp_path) else PAGE_DOWN)
            terminal.read_for(0.3)
            return any("rounds:\n-" in text for text in rounds(tmp_path))

        terminal.read_until(a_round_is_written, LIMIT_S)
        assert b"1049" in terminal.modes_left_on
        program.send_signal(getattr(signal, name))
        terminal.read_until(lambda: program.poll() is not None, LIMIT_S)
        terminal.read_for(0.3)
        assert program.returncode == 0
        assert not terminal.modes_left_on
        assert terminal.settings_as_before
        (text,) = rounds(tmp_path)
        assert "\nended: " in text


@pytest.mark.slow
def test_in_lines_too(tmp_path: Path) -> None:
    with practising(tmp_path, "--lines") as (terminal, program):
        program.send_signal(signal.SIGTERM)
        terminal.read_until(lambda: program.poll() is not None, LIMIT_S)
        assert program.returncode == 0
        assert terminal.settings_as_before


@pytest.mark.parametrize("words", [(), ("--lines",)], ids=["on the screen", "in lines"])
def test_a_terminal_that_goes_without_a_word_ends_it(
    words: tuple[str, ...], tmp_path: Path
) -> None:
    """The pty is nobody's controlling terminal, so that the kernel sends no HUP (termios(3))."""
    with practising(tmp_path, *words) as (terminal, program):
        terminal.read_for(0.5)
        terminal.close()
        assert program.wait(LIMIT_S) is not None
    assert all("\nended: " in text for text in rounds(tmp_path))


@pytest.mark.slow
def test_ctrl_z_gives_the_shell_its_terminal_back_until_fg(tmp_path: Path) -> None:
    """A shell with job control (POSIX: `set -m`) in a terminal of its own."""
    practise = f"{sys.executable} -m trainer practise --player --routine {routine_in(tmp_path)}"
    terminal = OwnTerminal()
    end = terminal.slave
    shell = subprocess.Popen(
        ["bash", "-c", f"set -m; {practise}; echo {STOPPED} by $?; stty -a; fg"],
        stdin=end, stdout=end, stderr=end, cwd=PROJECT,
        env=dict(os.environ, TRAINER_HOME=str(tmp_path), TERM="xterm-256color"),
        preexec_fn=own_terminal_to_control,
    )  # fmt: skip
    try:
        terminal.read_until(lambda: terminal.shows_today, LIMIT_S)
        terminal.read_for(0.5)
        assert b"1049" in terminal.modes_left_on

        def parts() -> list[bytes]:
            return terminal.written.split(STOPPED.encode())

        terminal.press(CTRL_Z)
        terminal.read_until(lambda: len(parts()) > 1 and TITLE in parts()[1], LIMIT_S)
        assert b"\x1b[?1049l" in parts()[0]
        by_the_shell, again = parts()[1].split(b"\x1b[?1049h")
        assert b" icanon " in by_the_shell
        assert b" echo " in by_the_shell
        assert TITLE in again
        terminal.press(b"q")
        terminal.read_until(lambda: shell.poll() is not None, LIMIT_S)
        assert not terminal.modes_left_on
    finally:
        shell.kill()
        shell.wait()
        terminal.close()
