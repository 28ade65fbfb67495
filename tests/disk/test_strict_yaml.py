"""The one YAML reader: what our writer wrote comes back; what could do more than text is refused.

Second opinion: PyYAML's own loaders (YAML 1.1) and the rules of YAML 1.2.2, chapters 6 to 10.
"""

from __future__ import annotations

import ast
import contextlib
import os
import re
import time
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as some

from tests.sources import modules, parsed
from trainer.disk.regular_file import UnfitFileError, regular_bytes
from trainer.disk.strict_yaml import StrictYamlError, lines_of, node_tree, yaml_content

PROJECT = Path(__file__).parents[2]

REFUSED = {
    "a set": ("x: !!set {a, b}", 1, "begins with '!'"),
    "a tag for a list": ("x: !!str [a]", 1, "begins with '!'"),
    "a truth that is none": ("x: !!bool abc", 1, "begins with '!'"),
    "an empty whole number": ('x: !!int ""', 1, "begins with '!'"),
    "an empty number": ('x: !!float ""', 1, "begins with '!'"),
    "code": ("a: b\nx: !!python/object/apply:os.system [ls]", 2, "begins with '!'"),
    "a name for a place": ("a: b\nx: &y 1", 2, "'&y' is not read here"),
    "another place": ("a: &b 1\nx: *b", 1, "'&b' is not read here"),
    "another place alone": ("a: 1\nx: *b", 2, "'*b' is not read here"),
    "a merge": ("a: 1\n<<: {b: 2}", 2, "'<<' is not read here"),
    "a merge of lists": ("<<: [{b: 2}]", 1, "'<<' is not read here"),
    "a list for a name": ("a: 1\n? [b, c]\n: 2", 2, "can't be the name"),
    "braces for a name": ("{a: 1}: 2", 1, "can't be the name"),
    "a second document": ("a: 1\n---\nb: 2", 2, "A second document"),
    "a second document after dots": ("a: 1\n...\n---\nb: 2", 3, "A second document"),
    "brackets without end": ("a: " + "[" * 5000, 1, "too deep"),
    "braces without end": ("a: 1\nb: " + "{a: " * 5000, 2, "too deep"),
    "dashes without end": ("- " * 5000 + "a", 1, "too deep"),
    "a control character": ("a: 1\nb: \x1b[2J", 2, "can't be printed"),
    "a NUL": ("a: 1\nb: \x00", 2, "can't be printed"),
    "a bracket left open": ("a: 1\nb: [1, 2", 2, "can't follow this line"),
    "half a character": ("a: \ud800", 1, "can't be printed"),
}


@pytest.mark.parametrize(("text", "line", "words"), REFUSED.values(), ids=REFUSED)
@pytest.mark.parametrize("read", [yaml_content, node_tree, lambda text: lines_of(text, [("z",)])])
def test_what_no_file_of_ours_needs_is_refused_at_its_line(
    text: str, line: int, words: str, read: object
) -> None:
    if read is node_tree and ("<<" in text or "can't be the name" in words):
        pytest.skip("nodes are taken as they stand: the routine's reader says more of them")
    with pytest.raises(StrictYamlError) as refused:
        read(text)  # type: ignore[operator]
    assert words in refused.value.what
    assert refused.value.mend
    assert refused.value.line is not None
    assert refused.value.line >= line


MEANT_AS_TYPED = [
    "1:30", "190:20:30", "0o17", "017", "0x1f", "0b11", "1_000", "2026-11-23", "12e03", "1e5",
    "2026-11-23 17:05:12+01:00", "=", "9" * 400_000, "1:" * 200_000 + "1", "." , "-", "+", "_",
    "y", "n", "Rock & Roll", "F#5", "١٢",
]  # fmt: skip
"""Base 60, octal, hexadecimal, binary, times and numbers of any length are no more than text."""


@pytest.mark.parametrize("typed", MEANT_AS_TYPED, ids=lambda typed: typed[:12])
def test_what_looks_like_another_number_stays_text(typed: str) -> None:
    began = time.monotonic()
    assert yaml_content(f"x: {typed}" if typed != "-" else "x: '-'").plain == {"x": typed}
    assert time.monotonic() - began < 5.0


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("yes", True), ("No", False), ("ON", True), ("off", False), ("true", True),
        ("", None), ("~", None), ("null", None), ("Null", None),
        ("0", 0), ("-7", -7), ("+7", 7), ("72", 72), ("999999999999999", 999_999_999_999_999),
        ("4.0", 4.0), ("-23.1", -23.1), ("1.0e-05", 1e-05), (".5", 0.5), ("5.", 5.0),
        (".inf", float("inf")), ("-.Inf", float("-inf")),
    ],
)  # fmt: skip
def test_numbers_truths_and_nothing_are_told_from_text(typed: str, meant: object) -> None:
    found = yaml_content(f"x: {typed}").plain
    assert found == {"x": meant}
    assert isinstance(found, dict)
    assert type(found["x"]) is type(meant)
    assert yaml_content(f"x: '{typed}'").plain == {"x": typed}


FOLDED_BY_PYYAML = "\x85\u2028\u2029"
"""Line ends that its writer puts bare into a quotation, where YAML makes a blank of them."""
words = some.text(
    some.characters(exclude_categories=["Cs"], exclude_characters=FOLDED_BY_PYYAML), max_size=30
)


def test_times_as_our_writer_tags_them_are_text_and_in_a_routine_are_refused() -> None:
    for tag in ("!", "!!timestamp", "!!str"):
        text = f"x: [{{at: {tag} '2026-11-24 08:10:00+01:00'}}]"
        assert yaml_content(text).plain == {"x": [{"at": "2026-11-24 08:10:00+01:00"}]}
        with pytest.raises(StrictYamlError, match="begins with"):
            node_tree(text)


kept = some.recursive(
    some.none()
    | some.booleans()
    | some.integers(-(10**15) + 1, 10**15 - 1)
    | some.floats(allow_nan=False, allow_infinity=False, width=32)
    | words,
    lambda inner: some.lists(inner, max_size=4) | some.dictionaries(words, inner, max_size=4),
    max_leaves=12,
)


@settings(max_examples=300, deadline=None)
@given(kept)
def test_what_the_safe_dumper_writes_comes_back(plain: object) -> None:
    written = yaml.safe_dump(plain, allow_unicode=True, sort_keys=False)
    found = yaml_content(written)
    assert not found.repeated
    assert found.plain == plain


def test_of_a_name_that_stands_twice_the_first_is_read_and_both_are_told() -> None:
    """YAML 1.2.2, section 3.2.1.3: names are unique; nothing says which of two to lose."""
    found = yaml_content("rounds:\n- a: 1\n- b: 2\nended: x\nrounds: []\n")
    assert found.plain == {"rounds": [{"a": 1}, {"b": 2}], "ended": "x"}
    assert [(one.name, one.line, one.first_line) for one in found.repeated] == [("rounds", 5, 1)]
    assert "'rounds' is here for the second time, after line 1" in found.repeated[0].sentence


def test_places_are_those_of_the_python_parser() -> None:
    text = "a: 1\nb:\n- c: 'é'  # d\n  e: [f, {g: h}]\n- |\n  i\n  j\n"

    def places(node: yaml.Node) -> list[tuple[int, int, int, object]]:
        inner = list(node.value) if isinstance(node.value, list) else []
        flat = [one for each in inner for one in (each if isinstance(each, tuple) else (each,))]
        mark, end = node.start_mark, node.end_mark
        here = (mark.line, mark.column, mark.index, end.index if not inner else None)
        return [here, *(place for one in flat for place in places(one))]

    ours = node_tree(text, "file.yaml")
    theirs = yaml.compose(text, Loader=yaml.SafeLoader)
    assert ours is not None
    assert theirs is not None
    assert places(ours) == places(theirs)
    assert ours.start_mark.name == "file.yaml"


def test_the_line_of_a_place_is_that_of_the_value_or_of_what_is_around_it() -> None:
    text = "a: 1\nb:\n- c: 2\n  d:\n    e: 3\n- f\n"
    places = [("a",), ("b", 0, "d", "e"), ("b", 1), ("b", 0, "x"), ("y",), ("b", 9)]
    assert lines_of(text, places) == dict(zip(places, [1, 5, 6, 3, 1, 3], strict=True))


FLOODS = {
    "aliases": "a: &a [x]\n" + "".join(f"b{n}: &b{n} [*a,*a]\n" for n in range(800)),
    "a number in base 60": "x: " + "1:" * 200_000 + "1",
    "a number of 400 kB": "x: " + "7" * 400_000,
    "commas": "x: [" + "a," * 1_000_000 + "]",
    "names": "".join(f"a{n}: {n}\n" for n in range(340_000)),
    "one name": "a: 1\n" * 400_000,
    "blank lines": "\n" * 4_000_000 + "a: 1",
    "a long quotation": 'a: "' + "x\n\n  " * 500_000 + '"',
    "a long comment": "# " + "x" * 4_000_000 + "\na: 1",
    "question marks": "? " * 2_000_000,
    "colons": "a" + ": " * 2_000_000,
}


@pytest.mark.slow
@pytest.mark.parametrize("text", FLOODS.values(), ids=FLOODS)
def test_no_small_file_is_read_for_ever(text: str) -> None:
    """13 kB of aliases once took 32 s; the limit here leaves room for a busy machine."""
    began = time.process_time()
    with contextlib.suppress(StrictYamlError):
        yaml_content(text)
    assert time.process_time() - began < 12.0


def test_a_pipe_a_device_a_folder_and_a_flood_are_no_files(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    (tmp_path / "large.yaml").write_bytes(b"x" * 101)
    for path, words in [
        (tmp_path / "pipe.yaml", "a device or a pipe"),
        (Path("/dev/zero"), "a device or a pipe"),
        (tmp_path, "a folder"),
        (tmp_path / "large.yaml", "larger than"),
        (tmp_path / "nul\0.yaml", "null"),
    ]:
        with pytest.raises(UnfitFileError, match=words):
            regular_bytes(path, 100)
    (tmp_path / "large.yaml").write_bytes(b"x" * 100)
    assert regular_bytes(tmp_path / "large.yaml", 100) == b"x" * 100
    with pytest.raises(FileNotFoundError):
        regular_bytes(tmp_path / "none.yaml", 100)


def test_no_other_module_reads_yaml() -> None:
    reading = re.compile("(safe_|full_|unsafe_)?load(_all)?|compose(_all)?|parse|scan|C?.*Loader")
    found = [
        f"{path.relative_to(PROJECT)}:{node.lineno}"
        for path in modules()
        if path.name != "strict_yaml.py"
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.Attribute) and reading.fullmatch(node.attr)
        if isinstance(node.value, ast.Name) and node.value.id == "yaml"
    ]
    assert found == []
