"""The schema as an editor uses it: judged by the reference library jsonschema (PyPI)."""

import re
import runpy
from pathlib import Path

import pytest
import yaml
from jsonschema import Draft202012Validator

from trainer.routine.fields import DEFAULTS_FIELDS, KINDS
from trainer.routine.load import read_routine
from trainer.routine.schema import DIALECT, schema

HERE = Path(__file__).parent
SHIPPED = sorted((HERE.parents[1] / "routines").glob("*.yaml"))
_TABLES = runpy.run_path(str(HERE / "test_mistakes.py"))
BROKEN = [row[0] for name in ("STRUCTURE", "VALUES", "PASSAGES") for row in _TABLES[name]]
DOUBTFUL = [row[0] for row in _TABLES["DOUBTS"]]
VALIDATOR = Draft202012Validator(schema())


class EditorLoader(yaml.SafeLoader):
    """Plain values as the core schema of YAML 1.2.2, section 10.3.2, resolves them."""

    yaml_implicit_resolvers = {}  # noqa: RUF012


for tag, pattern, first in [
    ("null", r"null|Null|NULL|~|", ["n", "N", "~", ""]),
    ("bool", r"true|True|TRUE|false|False|FALSE", list("tTfF")),
    ("int", r"[-+]?[0-9]+", list("-+0123456789")),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", list("-+.0123456789")),
]:
    EditorLoader.add_implicit_resolver(
        f"tag:yaml.org,2002:{tag}", re.compile(f"^(?:{pattern})$"), first
    )


def accepted(text: str) -> bool:
    return VALIDATOR.is_valid(yaml.load(text, Loader=EditorLoader))


def test_it_is_a_schema_of_its_draft():
    Draft202012Validator.check_schema(schema())
    assert schema()["$schema"] == DIALECT


@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: file.stem)
def test_shipped_routines_are_accepted(file):
    found = yaml.load(file.read_text(encoding="utf-8"), Loader=EditorLoader)
    assert [error.message for error in VALIDATOR.iter_errors(found)] == []


@pytest.mark.parametrize("text", DOUBTFUL)
def test_doubts_are_for_the_checker_alone(text):
    assert accepted(text)


def test_most_broken_routines_are_refused_as_the_checker_refuses_them():
    """What is left is free text (keys, notes, ranges), and lines that contradict other lines."""
    refused = [text for text in BROKEN if not accepted(text)]
    assert not any(read_routine(text, "m.yaml")[0] for text in refused)
    assert len(refused) >= 0.6 * len(BROKEN)


@pytest.mark.parametrize(
    "entry",
    [
        "{scale: s}",
        "{scale: s, key: C, chord: major}",
        "{scale: s, key: C, rest: 1 minute}",
        "{tempo: 60}",
        "{speed climb: c, of: passage, key: C}",
        "{speed climb: c, of: scale, key: C, notes: quarter G4}",
        "{passage: p}",
        "{scale: s, key: C, articulations: [slured]}",
        "{scale: s, key: C, aims: {cent: 15}}",
    ],
)
def test_what_the_shape_of_a_routine_forbids(entry):
    text = f"title: T\nexercises:\n- {entry}\n"
    assert not accepted(text)
    assert read_routine(text, "m.yaml")[0] is None


def test_a_key_may_stand_under_defaults():
    text = "title: T\ndefaults: {key: C}\nexercises:\n- scale: s\n"
    assert accepted(text)
    assert read_routine(text, "m.yaml")[0] is not None


def test_every_field_is_explained_to_the_editor():
    defined = schema()["$defs"]
    for word, kind in KINDS.items():
        if word == "speed climb":
            continue
        for field in kind.fields:
            assert field.explanation in defined[word]["properties"][field.name]["description"]
    assert schema()["properties"]["defaults"]["properties"].keys() == DEFAULTS_FIELDS.keys()


GOOD = {
    "key": ["E flat", "F#", "bb minor", "[C, G, D minor]", "random minor", "{by day: [C, G]}"],
    "range": ["full", "'full, bottom first'", "two octaves", "from D5 to D6", "D flat 4 to A5"],
    "articulations": [
        "slurred",
        "all six",
        "[slurred, double]",
        "air-only silent",
        "{a different one every round: [slurred, single]}",
    ],
    "rhythm": ["sixteenths", "5 per beat", "4", "semiquavers", "5 notes to the beat"],
    "breaths": ["none", "8", "[after beat 2, every 4 beats]", "'after beats 8, 16'"],
    "rest after": ["none", "0", "1:30", "2 min", "1 minute 30 seconds", "30s"],
    "tempo": ["60", "60 bpm", "60.5", "'72,5'", "60 beats a minute"],
    "rounds": ["2", "3 rounds"],
    "aims": ["none", "{cents: 15}", "{clean: 95 %}", "{evenness: 25 ms}"],
    "pattern": ["straight", "thirds", "1-3-2-4"],
    "partner": ["off", "same notes"],
}


@pytest.mark.parametrize(
    ("name", "value"), [(name, value) for name, values in GOOD.items() for value in values]
)
def test_what_the_checker_takes_the_editor_takes(name, value):
    key = "" if name == "key" else "  key: C\n"
    text = f"title: T\nexercises:\n- scale: s\n{key}  {name}: {value}\n"
    assert read_routine(text, "m.yaml")[0] is not None
    assert accepted(text)
