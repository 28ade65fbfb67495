"""Every bench can be started: what it imports is there, the packages of its extra apart."""

from __future__ import annotations

import importlib
import tomllib
from pathlib import Path

import pytest

from tests.bench import mutants

PROJECT = Path(__file__).parent.parent
BENCHES = sorted((PROJECT / "tests" / "bench").rglob("*.py"))
EXTRA = tomllib.loads((PROJECT / "pyproject.toml").read_text())["project"]["optional-dependencies"]
IN_EXTRA = {one.split(">")[0] for one in (*EXTRA["bench"], *EXTRA["fit"])}


@pytest.mark.parametrize(
    "name", [".".join(file.relative_to(PROJECT).with_suffix("").parts) for file in BENCHES]
)
def test_it_finds_what_it_imports(name: str) -> None:
    try:
        importlib.import_module(name)
    except ModuleNotFoundError as missing:
        if missing.name not in IN_EXTRA:
            raise
        pytest.skip(f"{missing.name} is not installed: tests/run --bench does that")


@pytest.mark.parametrize("mutant", mutants.MUTANTS, ids=lambda mutant: mutant.name)
def test_a_mutant_has_its_place_and_its_tests(mutant: mutants.Mutant) -> None:
    assert mutants.located(mutant, PROJECT / "trainer").read_text().count(mutant.was) == 1
    assert all((PROJECT / "tests" / name).exists() for name in mutant.tests)
