"""Nothing a file can hold makes loading raise; what loads can be planned."""

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.routine.load import load_routine, read_routine
from trainer.routine.plan import plan
from trainer.routine.problem_report import describe

FOLDER = Path(__file__).parents[2] / "routines"
ROUTINES = [file.read_text(encoding="utf-8") for file in sorted(FOLDER.glob("*.yaml"))]
LINES = sorted({line for text in ROUTINES for line in text.splitlines()})
SIGNS = st.sampled_from([*"\t:#-[]{}'\"|>&*!%@`,?~\n 01", " #", ": ", "é", "\u2028", "🎵", "\x00"])
VALUES = st.sampled_from(
    ["on", "no", "~", "1:30", "1e999", "9" * 5000, "-1", "[]", "{}", "[[C]]", "{a: b}", "!!int x",
     "1-" * 3000 + "1", "F #", "same as s", "random minor", "² octaves", "٣", "C0 to C9",
     ".nan", "-.inf", "1e400", "0x41", "1_000", "2026-11-25", "2026-11-25T09:00:00Z", "<<", "=",
     "!!python/object/apply:os.system [x]", "!!binary aGk=", "&a [*a]", "'" + " " * 900 + "to x'",
     "{then: next key}", "4 faster when met twice, up to 999999999999", "{a: {tempo: 50}}",
     "leave out", "of the week", "morning.yaml", "../x.yaml", "free", "6/8", "[even, 1-1-1]"]
)  # fmt: skip


def check(text: str) -> None:
    routine, problems = read_routine(text, "f.yaml", FOLDER)
    assert (routine is None) == any(problem.serious for problem in problems)
    assert describe(problems)
    for problem in problems:
        assert problem.what
        assert problem.mend
        assert "\n" not in problem.sentence()
        assert len(problem.sentence()) < 900
        if problem.file == "f.yaml":
            assert 1 <= (problem.line or 1) <= len(text.splitlines()) + 1
    if routine is not None:
        for day in (1, 4):
            plan(routine, date(2026, 1, day), seed=3)


DEFENCES = {
    "an anchor": ("title: &a T\nexercises: []", "'&'"),
    "an alias": ("title: *a\nexercises: []", "'*'"),
    "a tag": ("title: !!python/object/apply:os.system [ls]\nexercises: []", "'!'"),
    "a merge": ("title: T\n<<: {tempo: 60}\nexercises:\n- rest: 1 minute", "'<<' is not known"),
    "a list as a name": ("? [a, b]\n: c\ntitle: T\nexercises:\n- rest: 1 minute", "Write a word"),
    "a date as a name": ("2026-11-25: x\ntitle: T\nexercises:\n- rest: 1 minute", "not known"),
    "deep lists": ("title: T\nexercises: " + "[" * 900, "too deep"),
    "deep margins": ("title:\n" + "".join(" " * n + "- \n" for n in range(1, 40)), "too deep"),
    "a number without end": ("title: T\ndefaults: {tempo: 1" + "0" * 9000 + "}", "letters long"),
    "not a number": ("title: T\ndefaults: {tempo: .nan}", "'.nan' is not a number"),
    "infinity": ("title: T\ndefaults: {tempo: .inf}", "'.inf' is not a number"),
    "an exponent": ("title: T\ndefaults: {tempo: 6e1}", "'6e1' is not a number"),
    "a long name": ("title: T\nexercises:\n- {scale: " + "x" * 90 + ", key: C}", "under 60"),
    "a long text": ("title: T\nwords: " + "x" * 9000, "under 4000"),
    "a long passage": (
        "title: T\nexercises:\n- {passage: p, notes: " + "G4 " * 2100 + "}",
        "notes",
    ),
    "many exercises": ("title: T\nexercises:\n" + "- rest: 1 minute\n" * 99, "of 60 at most"),
    "ends of lines that are none": ("title: T\nwords: a\r\r\r\rb\nc\nd: e", "line 6"),
    "a long list": (
        "title: T\nexercises:\n- {scale: s, key: C, articulations: ["
        + "single, " * 90
        + "double]}",
        "Keep it to 60 at most",
    ),
    "many rounds by lists": (
        "title: T\nexercises:\n"
        + "".join(
            f"- {{scale: s{n}, key: C, articulations: [{'single, ' * 50} double]}}\n"
            for n in range(9)
        ),
        "Ask for fewer rounds",
    ),
    "many rounds": (
        "title: T\nexercises:\n"
        + "".join(f"- {{scale: s{n}, key: C, rounds: 40}}\n" for n in range(20)),
        "Ask for fewer rounds",
    ),
}
"""What a stranger's file may try → what is said about it."""


@pytest.mark.parametrize(("text", "fragment"), DEFENCES.values(), ids=DEFENCES)
def test_what_a_strangers_file_may_try_gets_a_sentence(text, fragment):
    routine, problems = read_routine(text, "f.yaml")
    assert routine is None
    assert any(fragment in problem.sentence() for problem in problems), describe(problems)
    check(text)


@given(st.text(max_size=200))
def test_any_text(text):
    check(text)


@given(st.binary(max_size=200))
def test_any_bytes(tmp_path_factory, raw):
    file = tmp_path_factory.mktemp("any") / "f.yaml"
    file.write_bytes(raw)
    load_routine(file)


@given(st.sampled_from(ROUTINES), st.data())
def test_a_routine_with_signs_put_in_and_taken_out(text, data):
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.integers(0, 12))
        text = text[:place] + data.draw(SIGNS | st.just("")) + text[place + cut :]
    check(text)


@given(st.lists(st.sampled_from(LINES), max_size=25))
def test_lines_of_routines_in_any_order(lines):
    check("title: T\nexercises:\n" + "\n".join(lines))


@given(st.sampled_from(ROUTINES), st.data())
def test_a_routine_with_a_strange_value(text, data):
    lines = text.splitlines()
    fields = [number for number, line in enumerate(lines) if ": " in line.split("#")[0]]
    number = data.draw(st.sampled_from(fields))
    name = lines[number].split(": ", 1)[0]
    lines[number] = f"{name}: {data.draw(VALUES)}"
    check("\n".join(lines))
