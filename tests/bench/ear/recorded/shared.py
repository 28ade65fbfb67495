"""What lies beside the project and is only looked at; and a place for what is costly to make."""

from __future__ import annotations

import importlib.util
import tempfile
from functools import cache
from pathlib import Path
from types import ModuleType

SHARED = Path(__file__).parents[5] / "shared"
RECORDINGS = SHARED / "recordings"
CACHE = Path(tempfile.gettempdir()) / "flute-recorded-bench"
CACHE_FORM = 1
"""Raised when what is kept there changes."""


def cached(name: str) -> Path:
    """Where a thing costly to make may be kept between runs."""
    folder = CACHE / str(CACHE_FORM)
    folder.mkdir(parents=True, exist_ok=True)
    return folder / name


@cache
def stitch() -> ModuleType | None:
    """The module beside the project whose room is one of ours; None where it is missing."""
    path = SHARED / "audio" / "stitch.py"
    if not path.exists():
        return None
    spec = importlib.util.spec_from_file_location("stitch", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
