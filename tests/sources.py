"""The program's own modules as syntax trees, each read once a process."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

TRAINER = Path(__file__).parent.parent / "trainer"


def modules() -> list[Path]:
    """Every module of the program."""
    return sorted(TRAINER.rglob("*.py"))


@cache
def parsed(file: Path) -> ast.Module:
    """The module as it stands; not to be changed."""
    return ast.parse(file.read_text(encoding="utf-8"))
