"""Every table over the ways a note begins, or over the articulations, has a row for each."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator, Mapping

import pytest

import trainer
from trainer.music.note import ARTICULATION_STARTS, Articulation, Start

PARTIAL = {
    "trainer.music.articulations.ARTICULATION_MARKS": "no sign over a note begun plainly",
    "trainer.player.breath_noise._CONSONANTS": "only a tongue makes a consonant",
    "trainer.screens.drawing.above_staff.STARTS": "no sign over a note begun as notes commonly are",
}
"""Tables that are meant to lack rows, and why that harms nothing: whoever reads them says what
stands for the rest."""


def tables() -> Iterator[tuple[str, Mapping[object, object]]]:
    """Every mapping at the top of a module whose keys are all of one of the two kinds."""
    for module in pkgutil.walk_packages(trainer.__path__, "trainer."):
        if module.name.endswith("__main__"):
            continue
        for name, value in vars(importlib.import_module(module.name)).items():
            if isinstance(value, Mapping) and value:
                kinds = {type(key) for key in value}
                if kinds in ({Start}, {Articulation}):
                    yield f"{module.name}.{name}", value


TABLES = dict(tables())


@pytest.mark.parametrize("name", sorted(TABLES.keys() - PARTIAL.keys()))
def test_a_table_has_a_row_for_each(name: str) -> None:
    kind = type(next(iter(TABLES[name])))
    assert set(TABLES[name]) == set(kind)


def test_the_tables_that_lack_rows_are_still_there() -> None:
    assert PARTIAL.keys() <= TABLES.keys()


def test_tables_are_found() -> None:
    assert ARTICULATION_STARTS in TABLES.values()
    assert len(TABLES) > len(PARTIAL) + 2
