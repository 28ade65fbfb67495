"""The engine's process runs our code and no other, whatever lies in the folder one stands in."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from trainer.sound.board import new_board_memory
from trainer.sound.engine import Engine, Refused, module_folders
from trainer.sound.stream import Wanted

PROJECT = Path(__file__).parents[2]
TRAP = "import pathlib\npathlib.Path(__file__).with_suffix('.sprung').touch()\n"
NAMES = (
    *("cffi", "dataclasses", "json", "numpy", "pickle", "queue", "signal", "site", "sitecustomize"),
    *("sounddevice", "threading", "trainer", "typing", "usercustomize", "yaml"),
)


@pytest.fixture
def trapped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of modules that tell when they are run, and the test stands in it."""
    for name in NAMES:
        (tmp_path / f"{name}.py").write_text(TRAP)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("searched", ["", ".", ":", "nowhere:"])
def test_no_module_of_the_current_folder_is_run(
    trapped: Path, monkeypatch: pytest.MonkeyPatch, searched: str
) -> None:
    monkeypatch.delenv("PYTHONPATH", raising=False)
    monkeypatch.setattr(sys, "path", [searched, *sys.path])
    memory = new_board_memory(100)
    engine = Engine(Wanted(output_device="no such device"), memory, None)
    try:
        answer = engine.answer(60.0)
    finally:
        engine.end()
        os.close(memory)
    assert isinstance(answer, Refused), "it came up, as far as asking for the device"
    assert not list(trapped.glob("*.sprung"))


def test_folders_of_modules_are_whole_paths() -> None:
    folders = module_folders(["", ".", "here", "/usr/lib/python", str(PROJECT)])
    assert folders == [str(PROJECT), "/usr/lib/python"]


def test_the_traps_would_spring(trapped: Path) -> None:
    subprocess.run([sys.executable, "-c", "import queue"], check=True, cwd=trapped)
    assert (trapped / "queue.sprung").exists()
