"""An invented studio in a folder: the demo's, ending on a fixed day."""

from __future__ import annotations

import importlib.util
import shutil
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from types import ModuleType

import pytest

from trainer.cli import main

ENDING = date(2026, 11, 25)
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture(scope="session")
def demo_studio() -> ModuleType:
    """The demo's module, which is no package of the trainer's."""
    file = Path(__file__).parents[2] / "demo" / "studio.py"
    spec = importlib.util.spec_from_file_location("demo_studio", file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def untouched_studio(demo_studio: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("studio") / "students"
    assert demo_studio.write_studio(folder, ENDING) > 100
    return folder


@pytest.fixture
def studio(untouched_studio: Path, tmp_path: Path) -> Path:
    """Five students' folders, to do with as a test likes."""
    return Path(shutil.copytree(untouched_studio, tmp_path / "students"))


@pytest.fixture
def state(tmp_path: Path) -> Path:
    return tmp_path / "state"


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """`trainer studio` with these words: exit status, standard output, standard error."""
    monkeypatch.setenv("TRAINER_HOME", str(tmp_path / "home"))

    def call(*words: object) -> tuple[int, str, str]:
        status = main(["studio", *map(str, words), "--ending", str(ENDING)])
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return call
