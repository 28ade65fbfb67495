"""One routine within another: only files of the same folder, and never without end."""

import os
from datetime import date

import pytest

from trainer.routine.entry_list import MOST_ENTRIES, MOST_FILES
from trainer.routine.load import load_routine
from trainer.routine.plan import plan
from trainer.routine.problem_report import describe

WARM_UP = """
title: Warm-up
instrument: piccolo
defaults: {key: G, tempo: 50}
exercises:
- {long tones: open the sound, notes: [B4, A4]}
- {scale: gentle, range: one octave}
- {arpeggio: chord, key: same as gentle, range: one octave}
"""


@pytest.fixture
def written(tmp_path):
    """Writes files, and loads the first one."""

    def load(main, **others):
        for name, text in {"main": main, "warm_up": WARM_UP, **others}.items():
            (tmp_path / f"{name}.yaml").write_text(text)
        return load_routine(tmp_path / "main.yaml")

    return load


def including(*lines: str) -> str:
    return "title: T\ndefaults: {tempo: 90}\nexercises:\n- rest: 1 minute\n" + "\n".join(lines)


def test_its_exercises_stand_here_with_its_own_defaults(written):
    routine, problems = written(
        including("- include: warm_up.yaml", "- {arpeggio: after, key: same as gentle}")
    )
    assert not problems
    assert routine.instrument == "C flute"
    planned = plan(routine, date(2026, 3, 2), 1)
    assert [one.id for one in planned] == ["rest 1", "open the sound", "gentle", "chord", "after"]
    assert [one.rounds[0].tempo_bpm for one in planned[1:]] == [50, 50, 50, 90]
    assert planned[-1].rounds[0].key.name == "G major"


def test_only_some_of_them(written):
    routine, _ = written(including("- include: warm_up.yaml", "  only: [gentle, chord]"))
    assert [entry.id for entry in routine.entries] == ["rest 1", "gentle", "chord"]
    _, problems = written(including("- include: warm_up.yaml", "  only: [gentel]"))
    assert "Did you mean 'gentle'?" in describe(problems)


def test_a_mistake_in_it_has_its_own_file_and_line(written):
    _, problems = written(
        including("- include: warm_up.yaml", "- scael: s"),
        warm_up=WARM_UP.replace("50", "slow"),
    )
    assert [(problem.file, problem.line) for problem in problems] == [
        ("main.yaml", 6),
        ("warm_up.yaml", 4),
    ]
    _, (problem,) = written(including("- include: warm_up.yaml"), warm_up="title: T\n\tx: y")
    assert (problem.file, problem.line) == ("warm_up.yaml", 2)


def test_a_name_that_stands_in_both(written):
    _, (problem,) = written(including("- include: warm_up.yaml", "- {scale: gentle, key: C}"))
    assert "for the second time, after line 7 of warm_up.yaml" in problem.sentence()


@pytest.mark.parametrize(
    ("name", "fragment"),
    [
        ("warmup.yaml", "Did you mean 'warm_up.yaml'?"),
        ("nothing.yaml", "There is no file 'nothing.yaml'"),
        ("warm_up", "Did you mean 'warm_up.yaml'?"),
        ("../warm_up.yaml", "leads out of this routine's folder"),
        ("/etc/hosts.yaml", "leads out of this routine's folder"),
        ("~/warm_up.yaml", "leads out of this routine's folder"),
        ("'C:\\warm_up.yaml'", "leads out of this routine's folder"),
        ("'https://example.org/warm_up.yaml'", "is an address"),
        ("[warm_up.yaml]", "There is a list where one value is wanted"),
        ("main.yaml", "includes itself"),
    ],
)
def test_what_can_not_be_included(written, name, fragment):
    routine, problems = written(including(f"- include: {name}"))
    assert routine is None
    assert problems[0].line == 5
    assert fragment in describe(problems)


def test_a_folder_inside_the_folder_may_hold_files(written, tmp_path):
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "one.yaml").write_text(WARM_UP)
    routine, problems = written(including("- include: parts/one.yaml"))
    assert routine is not None, describe(problems)


def test_a_link_that_leads_out(tmp_path):
    folder = tmp_path / "inside"
    folder.mkdir()
    (tmp_path / "outside.yaml").write_text(WARM_UP)
    (folder / "link.yaml").symlink_to(tmp_path / "outside.yaml")
    (folder / "m.yaml").write_text(including("- include: link.yaml"))
    routine, problems = load_routine(folder / "m.yaml")
    assert routine is None
    assert "leads out of this routine's folder" in describe(problems)


def test_a_routine_that_is_itself_a_link_finds_the_files_beside_the_link(tmp_path):
    (tmp_path / "elsewhere").mkdir()
    folder = tmp_path / "here"
    folder.mkdir()
    (tmp_path / "elsewhere" / "m.yaml").write_text(including("- include: warm_up.yaml"))
    (folder / "warm_up.yaml").write_text(WARM_UP)
    (folder / "m.yaml").symlink_to(tmp_path / "elsewhere" / "m.yaml")
    routine, problems = load_routine(folder / "m.yaml")
    assert routine is not None, describe(problems)


def test_a_link_to_itself(written, tmp_path):
    (tmp_path / "round.yaml").symlink_to(tmp_path / "round.yaml")
    _, problems = written(including("- include: round.yaml"))
    assert "There is no file" in describe(problems)


def test_a_pipe_is_no_routine(written, tmp_path):
    os.mkfifo(tmp_path / "pipe.yaml")
    _, problems = written(including("- include: pipe.yaml"))
    assert "not a file" in describe(problems)


def test_two_files_that_include_each_other(written):
    _, problems = written(including("- include: a.yaml"), a=including("- include: main.yaml"))
    assert "includes itself, by way of main.yaml or a.yaml" in describe(problems).replace(
        " and ", " or "
    )


def test_too_deep_and_too_many(written):
    deep = {f"d{n}": including(f"- include: d{n + 1}.yaml") for n in range(6)}
    _, problems = written(including("- include: d0.yaml"), **deep, d6=WARM_UP)
    assert "Files are included 3 deep already." in describe(problems)
    small = {f"s{n}": f"title: T\nexercises:\n- {{scale: s{n}, key: C}}\n" for n in range(12)}
    _, problems = written(including(*(f"- include: s{n}.yaml" for n in range(12))), **small)
    assert f"More than {MOST_FILES} files are included." in describe(problems)


def test_too_many_exercises_in_all(written):
    many = "title: T\nexercises:\n" + "- rest: 1 minute\n" * (MOST_ENTRIES - 1)
    _, problems = written(including("- include: a.yaml", "- include: b.yaml"), a=many, b=many)
    assert "Divide it into several routines" in describe(problems)
