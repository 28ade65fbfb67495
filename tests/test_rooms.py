"""Each room knows only those below it: an import that would go back up is refused."""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import pytest

from tests.sources import modules, parsed

PROJECT = Path(__file__).parent.parent
LOOSE = {"__init__.py", "__main__.py", "cli.py", "errors.py", "py.typed"}
REFUSED = [
    ("screens/today_screen.py", "trainer.sound.stream"),
    ("screens/today_screen.py", "trainer.ear.hear"),
    ("screens/today_screen.py", "trainer.coach.judge"),
    ("screens/today_screen.py", "trainer.journal.read"),
    ("session/view.py", "trainer.ear.take_listener"),
    ("session/session.py", "trainer.screens.app"),
    ("session/session.py", "textual"),
    ("app/settings.py", "trainer.commands.practice"),
    ("journal/log.py", "trainer.score.sheet"),
    ("journal/log.py", "trainer.coach.judge"),
    ("journal/log.py", "trainer.ear.hear"),
    ("journal/read.py", "trainer.studio.overview"),
    ("studio/folders.py", "trainer.session.session"),
    ("coach/judge.py", "trainer.journal.read"),
    ("coach/judge.py", "trainer.ear.hear"),
    ("coach/judge.py", "trainer.sound.port"),
    ("player/tone.py", "trainer.score.part"),
    ("sound/port.py", "trainer.score.part"),
    ("sound/port.py", "trainer.routine.round"),
    ("ear/hear.py", "trainer.sound.port"),
    ("ear/hear.py", "trainer.routine.round"),
    ("ear/analysis/frames.py", "trainer.ear.segments.note_start"),
    ("ear/live/live_ear.py", "trainer.ear.take_listener"),
    ("routine/model.py", "trainer.score.part"),
    ("music/pitch.py", "trainer.routine.round"),
    ("music/pitch.py", "trainer.errors"),
    ("paper/parts.py", "trainer.journal.log"),
    ("disk/whole_file.py", "trainer.journal.log"),
    ("figures/round_figures.py", "trainer.coach.judge"),
    ("figures/round_figures.py", "trainer.journal.log"),
    ("figures/round_figures.py", "trainer.ear.hear"),
    ("figures/round_figures.py", "trainer.sound.port"),
    ("routine/model.py", "trainer.figures.round_figures"),
    ("ear/heard.py", "trainer.figures.round_figures"),
    ("sound/level_check.py", "trainer.figures.round_figures"),
    ("screens/today_screen.py", "trainer.figures.round_figures"),
    ("disk/whole_file.py", "trainer.errors"),
]


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> str:
    """What the import contracts say of a copy of the program with every import of REFUSED in it."""
    copy = tmp_path_factory.mktemp("rooms")
    shutil.copytree(
        PROJECT / "trainer", copy / "trainer", ignore=shutil.ignore_patterns("__pycache__")
    )
    shutil.copy(PROJECT / "pyproject.toml", copy)
    for module, imported in REFUSED:
        with (copy / "trainer" / module).open("a", encoding="utf-8") as file:
            file.write(f"\n\nimport {imported}\n")
    told, status = contracts(copy)
    assert status == 1, told
    return told


def contracts(project: Path) -> tuple[str, int]:
    """What import-linter prints and its exit status."""
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys; from importlinter.cli import lint_imports_command as go; go()",
            "--no-cache",
        ],
        cwd=project,
        env=os.environ | {"PYTHONPATH": str(project), "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert "Contracts:" in done.stdout, done.stdout + done.stderr
    return done.stdout, done.returncode


def test_the_program_as_it_stands_is_taken() -> None:
    told, status = contracts(PROJECT)
    assert status == 0, told


@pytest.mark.parametrize(("module", "imported"), REFUSED)
def test_an_import_the_wrong_way_is_refused(said: str, module: str, imported: str) -> None:
    """Each is named as a direct import that a contract forbids, with its line."""
    importer = f"trainer.{module.removesuffix('.py').replace('/', '.')}"
    assert re.search(rf"^ *- +{re.escape(f'{importer} -> {imported}')} \(l\.", said, re.M), said


def test_no_module_lies_loose() -> None:
    files = {file.name for file in (PROJECT / "trainer").iterdir() if file.is_file()}
    assert files <= LOOSE


def test_a_name_is_found_once() -> None:
    named = [file for file in modules() if file.name != "__init__.py"]
    assert twice(file.stem for file in named) == []
    bodies = (parsed(file).body for file in named)
    classes = (node.name for body in bodies for node in body if isinstance(node, ast.ClassDef))
    assert twice(classes) == []


def twice(names: Iterable[str]) -> list[str]:
    return [name for name, count in Counter(names).items() if count > 1]
