"""The reference page shows all there is and its examples load; so do the routines to begin from."""

import json

import pytest

from trainer.routine.desk import TEMPLATES, new_routine, reference, schema_text
from trainer.routine.fields import KINDS, ROUTINE_FIELDS
from trainer.routine.load import read_routine
from trainer.routine.reference import field_example, needed_lines, routine_example
from trainer.routine.report import describe
from trainer.routine.schema import schema


def loads_clean(text: str) -> None:
    routine, problems = read_routine(text, "m.yaml")
    assert routine is not None, describe(problems)
    assert not problems, describe(problems)


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.word)
def test_every_kind_and_field_is_on_the_page_and_its_example_loads(kind):
    section = reference().split(f"\n## {kind.word}\n")[1].split("\n## ")[0]
    needed = needed_lines(kind)
    assert all(line in section for line in needed)
    for field in kind.fields:
        example = field_example(kind, field)
        assert f"`{example}`".replace("|", "\\|") in section
        assert field.explanation in section
        lines = [line for line in needed if not line.startswith(f"{field.name}:")]
        loads_clean("title: T\nexercises:\n- " + "\n  ".join([*lines, example]) + "\n")


@pytest.mark.parametrize("field", ROUTINE_FIELDS, ids=lambda field: field.name)
def test_every_field_at_the_top_is_on_the_page_and_its_example_loads(field):
    example = routine_example(field)
    assert f"`{example}`" in reference()
    title = "" if field.name == "title" else "title: T\n"
    loads_clean(f"{title}{example}\nexercises:\n- rest: 1 minute\n")


@pytest.mark.parametrize("level", TEMPLATES)
def test_a_new_routine_loads_clean(level):
    loads_clean(new_routine(level))


def test_an_unknown_level_names_the_levels():
    with pytest.raises(ValueError, match="beginner, intermediate or advanced"):
        new_routine("expert")


def test_the_schema_is_printed_whole():
    assert json.loads(schema_text()) == schema()
