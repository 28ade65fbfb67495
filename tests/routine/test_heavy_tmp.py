"""Nothing a file can hold makes loading raise; what loads can be planned."""

from datetime import date
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.routine.load import load_routine, read_routine
from trainer.routine.plan import plan
from trainer.routine.report import describe

ROUTINES = [
    file.read_text(encoding="utf-8")
    for file in sorted((Path(__file__).parents[2] / "routines").glob("*.yaml"))
]
LINES = sorted({line for text in ROUTINES for line in text.splitlines()})
SIGNS = st.sampled_from([*"\t:#-[]{}'\"|>&*!%@`,?~\n 01", " #", ": ", "é", "\u2028", "🎵", "\x00"])
VALUES = st.sampled_from(
    ["on", "no", "~", "1:30", "1e999", "9" * 5000, "-1", "[]", "{}", "[[C]]", "{a: b}", "!!int x",
     "1-" * 3000 + "1", "F #", "same as s", "random minor", "² octaves", "٣", "C0 to C9"]
)  # fmt: skip


def check(text: str) -> None:
    routine, problems = read_routine(text, "f.yaml")
    assert (routine is None) == any(problem.serious for problem in problems)
    assert describe(problems)
    for problem in problems:
        assert problem.what
        assert problem.mend
        assert "\n" not in problem.sentence()
        assert len(problem.sentence()) < 900
        assert 1 <= (problem.line or 1) <= len(text.splitlines()) + 1
    if routine is not None:
        for day in (1, 2):
            plan(routine, date(2026, 1, day), seed=3)


@given(st.text(max_size=200))
@settings(max_examples=1500, deadline=None)
def test_any_text(text):
    check(text)


@given(st.binary(max_size=200))
@settings(max_examples=1500, deadline=None)
def test_any_bytes(tmp_path_factory, raw):
    file = tmp_path_factory.mktemp("any") / "f.yaml"
    file.write_bytes(raw)
    load_routine(file)


@given(st.sampled_from(ROUTINES), st.data())
@settings(max_examples=1500, deadline=None)
def test_a_routine_with_signs_put_in_and_taken_out(text, data):
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.integers(0, 12))
        text = text[:place] + data.draw(SIGNS | st.just("")) + text[place + cut :]
    check(text)


@given(st.lists(st.sampled_from(LINES), max_size=25))
@settings(max_examples=1500, deadline=None)
def test_lines_of_routines_in_any_order(lines):
    check("title: T\nexercises:\n" + "\n".join(lines))


@given(st.sampled_from(ROUTINES), st.data())
@settings(max_examples=1500, deadline=None)
def test_a_routine_with_a_strange_value(text, data):
    lines = text.splitlines()
    fields = [number for number, line in enumerate(lines) if ": " in line.split("#")[0]]
    number = data.draw(st.sampled_from(fields))
    name = lines[number].split(": ", 1)[0]
    lines[number] = f"{name}: {data.draw(VALUES)}"
    check("\n".join(lines))
