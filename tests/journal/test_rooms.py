"""The journal is light: a session writes it while sound is running."""

import subprocess
import sys

import pytest

NEVER = ("trainer.sound", "trainer.player", "trainer.screens", "trainer.session", "sounddevice",
         "aubio", "textual", "numpy", "scipy", "matplotlib")  # fmt: skip


@pytest.mark.parametrize(
    "module",
    [
        "write",
        "read",
        "week_text",
        "remark",
        "export",
        "sessions_text",
        "index",
        "lesson_page",
        "long_text",
        "from_teacher",
        "skim",
    ],
)
def test_it_loads_neither_sound_nor_screens(module: str) -> None:
    code = f"import sys, trainer.journal.{module}; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = done.stdout.split()
    assert f"trainer.journal.{module}" in loaded
    assert [name for name in NEVER if name in loaded] == []
