"""The reference page shows all there is and its examples load; so do the routines to begin from."""

import json
import runpy
from pathlib import Path

import pytest

from trainer.routine.desk_texts import TEMPLATES, new_routine, reference, schema_text
from trainer.routine.fields import KINDS, ROUTINE_FIELDS, WEEK_FIELDS
from trainer.routine.language_schema import schema
from trainer.routine.load import read_routine
from trainer.routine.problem_report import describe
from trainer.routine.reference import (
    NOT_PLAYED,
    field_example,
    in_every_exercise,
    needed_lines,
    routine_example,
    week_example,
)

EDITOR = runpy.run_path(str(Path(__file__).parent / "test_schema.py"))


@pytest.fixture
def folder(tmp_path):
    """Where the reference page's example of an included file stands."""
    text = "title: T\nexercises:\n- {long tones: three long notes, notes: [B4, A4, G4]}\n"
    (tmp_path / "warm_up.yaml").write_text(text)
    return tmp_path


LAST = "\n- read: Well done.\n"
AIMED = ["aims: {cents: 20}"]
OF_THE_WEEK = """
- {scale: scale of the day, key: of the week}
- {arpeggio: chord of the day, key: same as scale of the day}
"""


def loads_clean(text: str, folder=None) -> None:
    routine, problems = read_routine(text, "m.yaml", folder)
    assert routine is not None, describe(problems)
    assert EDITOR["accepted"](text)
    assert not problems, describe(problems)


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.word)
def test_every_kind_and_field_is_on_the_page_and_its_example_loads(kind, folder):
    section, common = (
        reference().split(f"\n## {name}\n")[1].split("\n## ")[0]
        for name in (kind.word, "In every exercise")
    )
    needed = needed_lines(kind)
    assert all(line in section for line in needed)
    for field in kind.fields:
        example = field_example(kind, field)
        shared = kind.word not in NOT_PLAYED and field in in_every_exercise()
        where = common if shared else section
        assert f"`{example}`" in where
        assert field.explanation in " ".join(where.split())
        lines = [line for line in needed if not line.startswith(f"{field.name}:")]
        lines += AIMED if field.name in ("progress", "until") else []
        loads_clean("title: T\nexercises:\n- " + "\n  ".join([*lines, example]) + LAST, folder)


@pytest.mark.parametrize("field", ROUTINE_FIELDS, ids=lambda field: field.name)
def test_every_field_at_the_top_is_on_the_page_and_its_example_loads(field):
    example = routine_example(field)
    assert f"`{example}`" in reference()
    title = "" if field.name == "title" else "title: T\n"
    levels = "\n  levels: {beginner: leave out}" if field.name == "level" else ""
    loads_clean(f"{title}{example}\nexercises:\n- rest: 1 minute\n- read: Words.{levels}\n")


@pytest.mark.parametrize("field", WEEK_FIELDS.values(), ids=lambda field: field.name)
def test_every_day_of_the_week_is_on_the_page_and_its_example_loads(field):
    example = week_example(field)
    assert f"`{example}`" in reference()
    rest = "" if field.name == "other days" else "  other days: G\n"
    loads_clean(f"title: T\nweek:\n{rest}  {example}\nexercises:\n{OF_THE_WEEK}")


def test_the_page_fits_a_terminal_of_eighty_columns():
    assert max(map(len, reference().splitlines())) <= 80


@pytest.mark.parametrize("level", TEMPLATES)
def test_a_new_routine_loads_clean(level):
    loads_clean(new_routine(level))


def test_an_unknown_level_names_the_levels():
    with pytest.raises(ValueError, match="beginner, intermediate or advanced"):
        new_routine("expert")


def test_the_schema_is_printed_whole():
    assert json.loads(schema_text()) == schema()
