"""Built, installed elsewhere and started in a real terminal, the program is all there.

The outside: pip and hatchling by their published interface (PEP 517), Python's own archives and
environments, and tmux, a terminal that is not ours. Only uv and pipx fetch anything; to the others
the environment that runs these tests lends its libraries, all but the trainer itself.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import sysconfig
import time
import venv
from contextlib import closing
from pathlib import Path
from uuid import uuid4
from zipfile import ZipFile

import pytest

from tests.sweeps import mostly_slow

PROJECT = Path(__file__).parent.parent
NOT_OURS = (".git", ".venv", ".*_cache", ".hypothesis", "build", "*.egg-info", "__pycache__")
PIP = (sys.executable, "-m", "pip")
PATIENCE_S = 600.0
FETCHING_S = 900.0
FIRST_QUESTION = "Which flute do you play?"
NEXT_QUESTION = "Which A do you tune to?"

needs_terminal = pytest.mark.skipif(
    shutil.which("tmux") is None, reason="tmux is not here: nothing to start the program in"
)


def _built(hook: str, source: Path, folder: Path) -> Path:
    """What hatchling's `build_wheel` or `build_sdist` makes of a source folder."""
    ask = "import sys; from hatchling import build; print(getattr(build, sys.argv[1])(sys.argv[2]))"
    folder.mkdir()
    said = subprocess.run(
        [sys.executable, "-c", ask, hook, folder],
        cwd=source,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
    )
    assert said.returncode == 0, said.stderr
    return folder / said.stdout.splitlines()[-1]


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the project to build in, with a morning of the demo left lying about."""
    copy = tmp_path_factory.mktemp("checkout") / "project"
    shutil.copytree(PROJECT, copy, ignore=shutil.ignore_patterns(*NOT_OURS))
    shutil.rmtree(copy / "demo" / "studio", ignore_errors=True)
    (copy / "demo" / "studio" / "journal").mkdir(parents=True)
    (copy / "demo" / "studio" / "journal" / "morning.yaml").write_text("somebody's own\n")
    return copy


@pytest.fixture(scope="module")
def sdist(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _built("build_sdist", checkout, tmp_path_factory.mktemp("sdist") / "dist")


@pytest.fixture(scope="module")
def unpacked(sdist: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("unpacked")
    subprocess.run(["tar", "xzf", sdist, "-C", folder], check=True, timeout=PATIENCE_S)
    (top,) = folder.iterdir()
    return top


@pytest.fixture(scope="module")
def wheels(checkout: Path, unpacked: Path, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The checkout's wheel, and the source archive's."""
    folder = tmp_path_factory.mktemp("wheels")
    return [
        _built("build_wheel", checkout, folder / "of-checkout"),
        _built("build_wheel", unpacked, folder / "of-sdist"),
    ]


def _contents(wheel: Path) -> dict[str, bytes]:
    with ZipFile(wheel) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def _files(folder: Path) -> set[str]:
    return {
        str(file.relative_to(folder))
        for file in folder.rglob("*")
        if file.is_file() and not file.name.startswith(".")
    }


def test_the_wheel_holds_every_file_of_the_program_and_every_routine(
    checkout: Path, wheels: list[Path]
) -> None:
    program = {f"trainer/{name}" for name in _files(checkout / "trainer")}
    routines = {f"trainer/routines/{name}" for name in _files(checkout / "routines")}
    held = _contents(wheels[0])
    assert {name for name in held if ".dist-info/" not in name} == program | routines
    for name in _files(checkout / "routines"):
        assert held[f"trainer/routines/{name}"] == (checkout / "routines" / name).read_bytes()


def test_the_source_archive_makes_the_same_wheel(wheels: list[Path]) -> None:
    assert _contents(wheels[1]) == _contents(wheels[0])


def test_the_source_archive_is_the_whole_project_and_nobodys_practice(
    checkout: Path, unpacked: Path
) -> None:
    for folder in (".ci", "demo", "routines", "tests", "trainer"):
        here = {name for name in _files(checkout / folder) if not name.startswith("studio/journal")}
        assert _files(unpacked / folder) == here


def _installed(wheel: Path, folder: Path) -> Path:
    """A fresh environment with nothing of ours but this wheel; its folder of programs."""
    venv.create(folder, with_pip=False)
    python = folder / "bin" / "python"
    subprocess.run(
        [*PIP, "--python", python, "install", "-q", "--no-index", "--no-deps", wheel],
        check=True,
        timeout=PATIENCE_S,
    )
    place = {"base": str(folder), "platbase": str(folder)}
    lent = "\n".join(sysconfig.get_path(kind) for kind in ("purelib", "platlib"))
    (Path(sysconfig.get_path("purelib", vars=place)) / "lent.pth").write_text(lent)
    return folder / "bin"


class Terminal:
    """A terminal of 80 by 24 in which one program runs, for a person with nothing at home."""

    def __init__(self, program: Path, home: Path) -> None:
        self._name = f"trainer-{uuid4().hex}"
        clean = ["env", "-i", f"HOME={home}", "LANG=C.UTF-8", f"PATH={os.defpath}"]
        size = ["-x", "80", "-y", "24"]
        self._tmux("new-session", "-d", *size, "-c", home, *clean, "TERM=screen", program)
        self._tmux("set-option", "-g", "remain-on-exit", "on")

    def _tmux(self, *words: object) -> str:
        command = ["tmux", "-L", self._name, "-f", os.devnull, *map(str, words)]
        return subprocess.run(
            command, capture_output=True, text=True, check=True, timeout=PATIENCE_S
        ).stdout

    def shows(self, words: str) -> str:
        """The screen once these words are on it; fails with what it shows instead."""
        until = time.monotonic() + PATIENCE_S
        while words not in (screen := self._tmux("capture-pane", "-p")):
            assert "Pane is dead" not in screen, f"ended without '{words}':\n{screen}"
            assert time.monotonic() < until, f"no '{words}' in:\n{screen}"
            time.sleep(0.1)
        return screen

    def press(self, key: str) -> None:
        self._tmux("send-keys", key)

    def close(self) -> None:
        self._tmux("kill-server")


@pytest.fixture
def home(tmp_path: Path) -> Path:
    folder = tmp_path / "home"
    folder.mkdir()
    return folder


def _practice_starts(program: Path, home: Path) -> None:
    """In an empty folder, for somebody who never practised, as far as the second question."""
    with closing(Terminal(program, home)) as terminal:
        screen = terminal.shows(FIRST_QUESTION)
        assert "C flute" in screen
        terminal.press("PageDown")
        terminal.shows(NEXT_QUESTION)


@needs_terminal
@pytest.mark.parametrize(
    "which", mostly_slow([0, 1], 1), ids=["of the checkout", "of the source archive"]
)
def test_the_wheel_installed_elsewhere_starts_practice(
    which: int, wheels: list[Path], home: Path, tmp_path: Path
) -> None:
    programs = _installed(wheels[which], tmp_path / "environment")
    _practice_starts(programs / "trainer", home)
    ask = [str(programs / "python"), "-c", "import trainer; print(trainer.__file__)"]
    where = subprocess.run(ask, cwd=home, capture_output=True, text=True, check=True).stdout
    assert Path(where).is_relative_to(programs.parent), "another trainer was started"


@pytest.fixture(scope="module")
def registry(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Packages can be fetched here; skips where they can't."""
    fetched = subprocess.run(
        [*PIP, "download", "-q", "--no-deps", "mido"],
        cwd=tmp_path_factory.mktemp("fetched"),
        capture_output=True,
        timeout=FETCHING_S,
    )
    if fetched.returncode != 0:
        pytest.skip("no packages can be fetched here: is there a network?")


@pytest.mark.slow
@needs_terminal
@pytest.mark.usefixtures("registry")
@pytest.mark.parametrize("tool", ["uv tool", "pipx"])
def test_practice_starts_as_a_tool(tool: str, checkout: Path, home: Path) -> None:
    name, *words = tool.split()
    places = [str(Path(sys.executable).parent), os.environ.get("PATH", os.defpath)]
    program = shutil.which(name, path=os.pathsep.join(places))
    if program is None:
        pytest.skip(f"{name} is not here")
    theirs = ("PIPX_", "UV_TOOL_", "XDG_")  # would lead them out of the empty home
    environment = {key: value for key, value in os.environ.items() if not key.startswith(theirs)}
    said = subprocess.run(
        [program, *words, "install", "."],
        cwd=checkout,
        env={
            **environment,
            "HOME": str(home),
            "XDG_CACHE_HOME": os.environ.get("XDG_CACHE_HOME", str(Path.home() / ".cache")),
            "PIP_CONSTRAINT": str(checkout / "tests" / "constraints.txt"),
            "UV_CONSTRAINT": str(checkout / "tests" / "constraints.txt"),
        },
        capture_output=True,
        text=True,
        timeout=FETCHING_S,
    )
    assert said.returncode == 0, said.stderr
    _practice_starts(home / ".local" / "bin" / "trainer", home)
