"""Cases of a sweep: a few that every run takes, the others marked slow."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest


def mostly_slow(cases: Iterable[Any], quick: int) -> list[Any]:
    """The same cases in their order; `quick` of them, evenly spread, stay in the quick run."""
    listed = list(cases)
    kept = {place * len(listed) // quick for place in range(quick)}
    return [
        case if place in kept else pytest.param(case, marks=pytest.mark.slow)
        for place, case in enumerate(listed)
    ]


def slow_but_for(quick: Iterable[Any], cases: Iterable[Any]) -> list[Any]:
    """The same cases in their order; those that aren't among the quick ones are marked slow."""
    quick = list(quick)
    return [case if case in quick else pytest.param(case, marks=pytest.mark.slow) for case in cases]
