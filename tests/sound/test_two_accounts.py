"""Two accounts on one machine: neither can block the other's start, hear it, or read its journal.

Two user numbers stand for two accounts; only the superuser may take them on.
"""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from trainer.disk.whole_file import write_new
from trainer.sound.board import new_board_memory, shared_board

if sys.platform == "win32" or os.geteuid() != 0:
    pytest.skip("only the superuser can be two others", allow_module_level=True)

STUDENT, STRANGER = 61_001, 61_002
SHARED = Path("/dev/shm")
STRANGE = ("trainer-sound-1-x", "trainer-sound-99999999999999999999-x", "trainer-sound--")


def as_account(number: int, act: Callable[[], None]) -> int:
    """Do something as this account in a process of its own; its exit status."""
    pid = os.fork()
    if pid:
        return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    try:
        os.setgroups([])
        os.setgid(number)
        os.setuid(number)
        act()
        os._exit(0)
    except BaseException:
        traceback.print_exc()
        os._exit(1)


@pytest.fixture
def home() -> Iterator[Path]:
    """A folder of the student's, in one that everybody may enter."""
    with TemporaryDirectory() as above:
        Path(above).chmod(0o755)
        home = Path(above) / "home"
        home.mkdir(mode=0o755)
        os.chown(home, STUDENT, STUDENT)
        yield home


def test_strange_files_of_another_account_stop_nobody() -> None:
    made = []
    try:
        for name in STRANGE:
            place = SHARED / name
            if not place.exists():
                place.write_bytes(b"")
                os.chown(place, STRANGER, STRANGER)
                place.chmod(0o600)
                made.append(place)
        folder = SHARED / "trainer-sound-2-folder"
        folder.mkdir()
        made.append(folder)

        def start() -> None:
            shared_board(new_board_memory(1000)).microphone.write(np.ones(100, np.float32))

        assert as_account(STUDENT, start) == 0
        assert all(place.exists() for place in made), "and nobody's file is touched"
    finally:
        for place in made:
            place.rmdir() if place.is_dir() else place.unlink()


def test_nobody_else_hears_or_reads(home: Path) -> None:
    told, ready = os.pipe()
    over, end = os.pipe()

    def practise() -> None:
        os.umask(0)
        memory = new_board_memory(1000)
        shared_board(memory).microphone.write(np.ones(500, np.float32))
        write_new(home / "journal", "2026-11-23", b"version: 2\n")
        os.write(ready, f"{os.getpid()} {memory}".encode())
        os.read(over, 1)

    student = os.fork()
    if not student:
        os._exit(as_account(STUDENT, practise))
    os.close(ready)  # else a student who came to grief would be waited for in vain
    try:
        pid, memory = os.read(told, 100).decode().split()
        kept = home / "journal" / "2026-11-23.yaml"
        assert kept.exists()

        def pry() -> None:
            for place in (Path(f"/proc/{pid}/fd/{memory}"), Path(f"/proc/{pid}/mem"), kept):
                with pytest.raises(PermissionError):
                    place.open("rb")
            with pytest.raises(PermissionError):
                list((home / "journal").iterdir())

        assert as_account(STRANGER, pry) == 0
    finally:
        os.write(end, b"x")
        os.waitpid(student, 0)
