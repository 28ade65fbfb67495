"""The schema as an editor uses it: judged by the reference library jsonschema (PyPI)."""

import re
import runpy
from collections import Counter
from pathlib import Path

import pytest
import yaml
from jsonschema import Draft202012Validator

from trainer.routine.fields import DEFAULTS_FIELDS, KINDS
from trainer.routine.language_schema import DIALECT, schema
from trainer.routine.load import read_routine
from trainer.routine.templates import TEMPLATES

HERE = Path(__file__).parent
SHIPPED = sorted((HERE.parents[1] / "routines").glob("*.yaml"))
_WISHES = runpy.run_path(str(HERE / "test_wishes.py"))
_TABLES = runpy.run_path(str(HERE / "test_mistakes.py"))
_BROKEN_FILES = runpy.run_path(str(HERE / "broken.py"))
BROKEN = [
    *(row[0] for name in ("SYNTAX", "STRUCTURE", "VALUES", "PASSAGES") for row in _TABLES[name]),
    *(one.text for one in _BROKEN_FILES["BROKEN"]),
]
DOUBTFUL = [row[0] for row in _TABLES["DOUBTS"]]
VALIDATOR = Draft202012Validator(schema())


class EditorLoader(yaml.SafeLoader):
    """Plain values as the core schema of YAML 1.2.2, section 10.3.2, resolves them; names of fields
    are unique, as section 3.2.1.3 demands.
    """

    yaml_implicit_resolvers = {}  # noqa: RUF012

    def construct_mapping(self, node, deep=False):
        names = [self.construct_object(name, deep=True) for name, _ in node.value]
        if len({str(name) for name in names}) < len(names):
            raise yaml.constructor.ConstructorError(None, None, "a name twice", node.start_mark)
        return super().construct_mapping(node, deep=deep)


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


def refused_by(text: str) -> str:
    """Who refuses a text: YAML itself, the schema, or neither."""
    try:
        return "neither" if accepted(text) else "schema"
    except yaml.YAMLError:
        return "YAML"


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


BEYOND_A_SCHEMA = {
    "a name that stands twice in a list": "for the second time",
    "an exercise that is only named": "No exercise above is called",
    "an exercise that is only named in the week": "No exercise is called",
    "a level that is only named": "No exercise has a level",
    "a day whose key is taken but not named": "from the week.",
    "another file": "There is no file",
    "a note the instrument lacks": " is not on the C flute.",
    "one note below another": "is not below",
    "one number above another": "which is not faster than",
    "one number far from another": "is too far for one round",
    "room for the octaves in a key": "this can't be played",
    "beats of a bar": "The bar that ends here holds",
    "a tie to another note": "is tied to",
    "a sign inside a tie": "inside the tied",
    "a jump to a sign that isn't there": "and none is written",
    "what stands behind a comment sign": "' #' begins a comment",
}
"""What JSON Schema has no words for → how the checker says it."""


@pytest.mark.slow
def test_the_schema_refuses_what_the_checker_refuses_but_for_what_it_has_no_words_for():
    """Judged by the library jsonschema (PyPI), after YAML's own rules."""
    by = {text: refused_by(text) for text in BROKEN}
    problems = {text: read_routine(text, "m.yaml", _BROKEN_FILES["ROUTINES"]) for text in BROKEN}
    assert not any(routine for routine, _ in problems.values())
    left = [text for text, who in by.items() if who == "neither"]
    says = [" ".join(problem.what for problem in problems[text][1]) for text in left]
    counts = Counter(by.values())
    print(f"of {len(by)}: {dict(counts)}")
    for text, what in zip(left, says, strict=True):
        assert any(words in what for words in BEYOND_A_SCHEMA.values()), text
    for name, words in BEYOND_A_SCHEMA.items():
        assert any(words in what for what in says), f"{name}: the schema can say it after all"
    assert counts["schema"] + counts["YAML"] >= 0.9 * len(by)


def test_the_schema_refuses_nothing_that_the_checker_takes():
    for text in (_BROKEN_FILES["GOOD"], *TEMPLATES.values(), *_WISHES["WISHES"].values()):
        assert accepted(text)


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
            where = defined[word]["properties"][field.name]["$ref"].removeprefix("#/$defs/")
            assert field.explanation in defined[where.replace("%20", " ")]["description"]
    assert defined["field defaults"]["properties"].keys() == DEFAULTS_FIELDS.keys()


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
