"""What the README shows a teacher really works."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

from trainer.routine.load import load_routine
from trainer.routine.plan import plan

PROJECT = Path(__file__).parent.parent


def test_the_routine_shown_loads_and_plans(tmp_path: Path) -> None:
    text = (PROJECT / "README.md").read_text()
    (example,) = re.findall(r"```yaml\n(.*?)```", text, re.DOTALL)
    file = tmp_path / "shown.yaml"
    file.write_text(example)
    routine, problems = load_routine(file)
    assert not problems
    assert routine is not None
    assert [planned.id for planned in plan(routine, date(2026, 3, 2), seed=0)]


def test_every_picture_shown_is_there() -> None:
    text = (PROJECT / "README.md").read_text()
    pictures = re.findall(r"!\[[^\]]*\]\(([^)]+)\)", text)
    assert pictures
    assert [picture for picture in pictures if not (PROJECT / picture).is_file()] == []
