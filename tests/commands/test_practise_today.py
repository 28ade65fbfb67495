"""What is shown first needs nothing that makes or hears sound: neither loaded nor opened."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from tests.bench.terminal import in_terminal
from trainer import cli
from trainer.app.paths import HOME_VARIABLE, user_paths
from trainer.app.settings import Settings, write_settings
from trainer.sound.process import NOT_HERE

PROJECT = Path(__file__).parents[2]
PROGRAM = """
import os, sys
from pathlib import Path
from threading import Timer
from trainer.app.sound_opening import SoundOpening

def painted(self):
    Path(sys.argv[1]).write_text("\\n".join(sys.modules))
    Timer(1.0, os._exit, (0,)).start()  # Textual writes from a thread of its own

SoundOpening.begin = painted  # and nothing is ever opened
from trainer.cli import main
sys.exit(main(sys.argv[2:]))
"""
HEAVY = ("numpy", "scipy", "PIL", "sounddevice", "soundfile", "aubio", "trainer.player.flutist")
PLAIN_DATA = ("trainer.ear", "trainer.ear.heard")
LIGHT_SOUND = ("trainer.sound", "trainer.sound.process")
LIMIT_S = 120.0


def loaded_when_painted(tmp_path: Path, words: str, *arguments: str) -> set[str]:
    """The modules loaded once the first screen is painted; its words must then be there."""
    modules = tmp_path / "modules.txt"
    seen = in_terminal(
        [sys.executable, "-c", PROGRAM, str(modules), *arguments],
        {**os.environ, HOME_VARIABLE: str(tmp_path / "home"), "PYTHONPATH": str(PROJECT)},
        limit_s=LIMIT_S,
        folder=tmp_path,
    )
    assert words in seen.written
    return set(modules.read_text().splitlines())


def heavy(loaded: set[str]) -> list[str]:
    """Of these, what hears, plays or computes."""
    return sorted(
        name
        for name in loaded
        if name.startswith(HEAVY)
        or (name.startswith("trainer.ear") and name not in PLAIN_DATA)
        or (name.startswith("trainer.sound") and name not in LIGHT_SOUND)
    )


@pytest.mark.parametrize("arguments", [(), ("practise", "--player", "student")])
def test_today_is_painted_before_anything_that_sounds(
    tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    paths = user_paths({HOME_VARIABLE: str(tmp_path / "home")})
    write_settings(paths.config_file, Settings())
    loaded = loaded_when_painted(tmp_path, "The complete morning", *arguments)
    assert "trainer.screens.today_screen" in loaded
    assert heavy(loaded) == []


def test_a_first_morning_is_painted_before_anything_that_sounds(tmp_path: Path) -> None:
    loaded = loaded_when_painted(tmp_path, "Which flute do you play?")
    assert "trainer.screens.first_run_screen" in loaded
    assert heavy(loaded) == []


def test_what_counts_as_heavy() -> None:
    """The list above is no empty promise: practice loads nearly all of it."""
    import trainer.app.practice_ready  # noqa: F401

    found = heavy(set(sys.modules))
    assert {"numpy", "scipy", "trainer.ear.live.live_ear", "trainer.sound.port"} <= set(found)


@pytest.mark.parametrize("words", ["practise", "practise --lines", "tuner", "calibrate"])
def test_where_sound_cannot_run_it_is_said_at_once(
    words: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By a fake platform alone; nothing of the trainer was ever tried on Windows."""
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path))
    assert cli.main(words.split()) == 1
    assert capsys.readouterr().err == f"{NOT_HERE}\n"
