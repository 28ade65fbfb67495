"""The studio is light, and touches neither sound nor screen."""

import subprocess
import sys

import pytest

NEVER = ("trainer.sound", "trainer.player", "trainer.screens", "trainer.session", "sounddevice",
         "aubio", "textual", "numpy", "scipy", "matplotlib")  # fmt: skip


@pytest.mark.parametrize("module", ["overview_text", "student", "lessons"])
def test_it_loads_neither_sound_nor_screens(module: str) -> None:
    code = f"import sys, trainer.studio.{module}; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = done.stdout.split()
    assert f"trainer.studio.{module}" in loaded
    assert [name for name in NEVER if name in loaded] == []
